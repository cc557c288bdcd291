// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.agent.sensor.DropoutSource;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.concurrent.TimeUnit;

/** A run on a made-up machine: the clock moves only when told, sensors and loads do as the test says. */
final class Bench implements AutoCloseable {
    static final String PROCEDURE = """
            format: loadwitness-procedure/1
            name: bench-test
            title: A test of the run itself
            sampling: 1 s
            stages:
              - id: idle
                duration: 3 s
              - id: cpu-soak
                loads: [cpu]
                proves: cpu
                duration: 30 s
              - id: cool-down
                duration: 2 s
            safety:
              stop-above: {cpu: 100 Cel, battery: 45 Cel}
              silent-after: 5 s
              adapter-lost: stop
              unguarded: %s
            decision:
              rule: guarded
              guard-factor: 1
            criteria:
              evidence:
                mandatory: yes
            """;

    final FakeClock clock = new FakeClock();
    final Sensor sensor = new Sensor();
    final List<LogRecord> records = new ArrayList<>();
    final List<FakeWork> works = new ArrayList<>();
    boolean loadsCanStart = true;
    boolean plantsAreCaught = true;
    String loadsRunOn = "";
    Duration loadsTake = Duration.ZERO;
    long heartbeatGapNanos;
    final Run run;
    private final SensorBank bank;

    Bench() {
        this("refuse");
    }

    Bench(String unguarded) {
        this(usualProcedure(unguarded));
    }

    static Procedure usualProcedure(String unguarded) {
        return procedure(PROCEDURE.formatted(unguarded));
    }

    /** One idle stage, then those given, then the rest of the usual procedure. */
    static Bench withStages(String stages) {
        String from = "  - id: cpu-soak\n    loads: [cpu]\n    proves: cpu\n    duration: 30 s\n";
        return new Bench(procedure(PROCEDURE.formatted("refuse").replace(from, stages)));
    }

    private Bench(Procedure procedure) {
        this(procedure, Run.Beginning.NEW);
        run.begin("boot-1", true);
    }

    /** The usual procedure, gone on with after an interruption. */
    static Bench resumed(Run.Beginning beginning) {
        Bench bench = new Bench(usualProcedure("refuse"), beginning);
        bench.run.goOn();
        return bench;
    }

    private Bench(Procedure procedure, Run.Beginning beginning) {
        DropoutSource dropout = new DropoutSource(sensor);
        bank = new SensorBank(List.of(dropout), Duration.ofMillis(400));
        run = new Run(
                procedure,
                bank,
                new Run.Dropout(dropout, false),
                this::start,
                records::add,
                clock,
                () -> heartbeatGapNanos,
                beginning);
    }

    private static Procedure procedure(String text) {
        try {
            return ProcedureReader.read("bench-test.yaml", text);
        } catch (ProcedureException e) {
            throw new AssertionError(e);
        }
    }

    private Work start(LoadKind kind, Stage stage) throws IOException {
        if (!loadsCanStart) {
            throw new IOException("no such program");
        }
        FakeWork work = new FakeWork(kind);
        works.add(work);
        return work;
    }

    /** Lets time pass as the runner would: a step at each time that the run asks for. */
    void pass(Duration time) throws InterruptedException {
        long end = clock.nanos + time.toNanos();
        while (clock.nanos < end && !run.hasEnded()) {
            letSensorsCatchUp();
            long next = run.step(clock.nanos);
            long now = Math.min(end, Math.max(next, clock.nanos + 1));
            works.forEach(w -> w.work(now - clock.nanos));
            clock.advance(now - clock.nanos);
        }
    }

    /** The sensor's own thread is real: let it come back before seconds of made-up time have passed. */
    void letSensorsCatchUp() throws InterruptedException {
        if (events(EventKind.SOURCE_SILENT).size()
                > events(EventKind.SOURCE_BACK).size()) {
            Thread.sleep(20);
        }
    }

    /** Until the run ends, at most ten minutes. */
    void passAll() throws InterruptedException {
        pass(Duration.ofMinutes(10));
    }

    /** Until the named stage has begun. */
    void passUntilStage(String stage) throws InterruptedException {
        for (int i = 0; i < 6000 && !began(stage); i++) {
            pass(Duration.ofMillis(100));
        }
        if (!began(stage)) {
            throw new AssertionError("stage " + stage + " never began; " + run.status());
        }
    }

    private boolean began(String stage) {
        return events(EventKind.STAGE_BEGIN).stream()
                .anyMatch(e -> e.text("stage").equals(stage));
    }

    List<Sample> samples() {
        return records.stream()
                .filter(Sample.class::isInstance)
                .map(Sample.class::cast)
                .toList();
    }

    List<Event> events(EventKind kind) {
        return records.stream()
                .filter(Event.class::isInstance)
                .map(Event.class::cast)
                .filter(e -> e.kind().equals(kind.word()))
                .toList();
    }

    CloseReason closedWith() {
        List<Close> closes = records.stream()
                .filter(Close.class::isInstance)
                .map(Close.class::cast)
                .toList();
        if (closes.size() != 1 || records.get(records.size() - 1) != closes.get(0)) {
            throw new AssertionError("not closed exactly once and last: " + closes);
        }
        return CloseReason.valueOf(
                closes.get(0).reason().toUpperCase(java.util.Locale.ROOT).replace('-', '_'));
    }

    @Override
    public void close() {
        bank.close();
    }

    /** Moves only when told. */
    static final class FakeClock implements RunClock {
        private long nanos;
        private Instant wall = Instant.parse("2026-11-25T10:00:00Z");
        private double boot = 100;
        boolean tellsSleep = true;

        void advance(long by) {
            nanos += by;
            wall = wall.plusNanos(by);
            boot += by / 1e9;
        }

        /** The machine sleeps: monotonic time stands still, the others do not. */
        void sleep(Duration time) {
            wall = wall.plus(time);
            boot += time.toNanos() / 1e9;
        }

        /** Somebody sets the clock. */
        void setWall(Duration by) {
            wall = wall.plus(by);
        }

        @Override
        public long nanos() {
            return nanos;
        }

        @Override
        public Instant wallClock() {
            return wall;
        }

        @Override
        public double bootTimeSeconds() {
            return tellsSleep ? boot : Double.NaN;
        }
    }

    /** One temperature, one adapter, one power limit. */
    static final class Sensor implements Source {
        volatile double celsius = 50;
        volatile double online = 1;
        volatile double limitWatts = 45;
        volatile double charge = 0.8;
        volatile boolean fails;

        @Override
        public String name() {
            return "made-up";
        }

        @Override
        public List<Channel> channels() {
            return List.of(
                    Channel.of("cpu.package.temperature", Metric.TEMPERATURE, Role.CPU, "made-up"),
                    Channel.of("adapter.online", Metric.ADAPTER_ONLINE, Role.ADAPTER, "made-up"),
                    Channel.of("cpu.power.limit", Metric.POWER_LIMIT, Role.CPU, "made-up"),
                    Channel.of("cpu.power", Metric.POWER, Role.CPU, "made-up"),
                    Channel.of("cpu.other.power", Metric.POWER, Role.CPU, "made-up")
                            .withComponent("0000:01:00.0", ""),
                    Channel.of("battery.charge", Metric.BATTERY_CHARGE, Role.BATTERY, "made-up"));
        }

        @Override
        public void read(double[] into, int from) throws IOException {
            if (fails) {
                throw new IOException("no answer");
            }
            into[from] = celsius;
            into[from + 1] = online;
            into[from + 2] = limitWatts;
            into[from + 3] = 31;
            into[from + 4] = 17;
            into[from + 5] = charge;
        }

        @Override
        public void close() {
            // Nothing is open.
        }
    }

    /** Does ten units a second and catches what is planted, unless told otherwise. */
    final class FakeWork implements Work {
        private final LoadKind kind;
        private double units;
        private boolean planted;
        boolean stopped;
        boolean frozen;
        double toldWatts = Double.NaN;
        final List<Fact> facts = new ArrayList<>();

        FakeWork(LoadKind kind) {
            this.kind = kind;
        }

        void work(long nanos) {
            if (!stopped && !frozen) {
                units += 10.0 * nanos / TimeUnit.SECONDS.toNanos(1);
            }
        }

        void happens(EventKind eventKind, boolean fatal) {
            facts.add(new Fact(eventKind, Map.of("load", kind.word()), fatal));
        }

        @Override
        public LoadKind kind() {
            return kind;
        }

        @Override
        public String scheduling() {
            return "fake";
        }

        @Override
        public String component() {
            return loadsRunOn;
        }

        @Override
        public Map<String, Object> device() {
            return loadsRunOn.isEmpty() ? Map.of() : Map.of("device", "made-up", "address", loadsRunOn);
        }

        @Override
        public Duration readyWithin() {
            return loadsTake.plusSeconds(10);
        }

        @Override
        public void power(double watts) {
            toldWatts = watts;
        }

        @Override
        public boolean ready() {
            return units > 10.0 * loadsTake.toSeconds();
        }

        @Override
        public long verified() {
            return (long) units;
        }

        @Override
        public long errors() {
            return 0;
        }

        @Override
        public void plant() {
            planted = true;
        }

        @Override
        public boolean plantCaught() {
            return planted && plantsAreCaught;
        }

        @Override
        public List<Fact> check(long nowNanos) {
            List<Fact> now = List.copyOf(facts);
            facts.clear();
            return now;
        }

        @Override
        public void stop() {
            stopped = true;
        }
    }
}
