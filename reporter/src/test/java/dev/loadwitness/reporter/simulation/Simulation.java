// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Random;
import java.util.UUID;
import java.util.function.Consumer;

/**
 * One simulated run: what {@link Scenario} does to the machine, and what the agent would have written of it. The same
 * arguments give the same records.
 *
 * @param procedure as {@code procedureText} says it
 * @param earlier attempts on the ticket before this one
 * @param start wall clock at the start of the run
 * @param specimen which machine of the model it is, in which room
 */
public record Simulation(
        Scenario scenario,
        Procedure procedure,
        Attachment procedureText,
        Optional<Attachment> jobSheet,
        List<EarlierAttempt> earlier,
        Instant start,
        Specimen specimen) {
    static final String TICKET = "FBR-2026-0142";

    public Simulation {
        requireNonNull(scenario, "scenario");
        requireNonNull(procedure, "procedure");
        requireNonNull(procedureText, "procedureText");
        requireNonNull(jobSheet, "jobSheet");
        earlier = List.copyOf(earlier);
        requireNonNull(start, "start");
        requireNonNull(specimen, "specimen");
    }

    /** The scenario with the sample procedure and job sheet, on an invented morning. */
    public static Simulation of(Scenario scenario) {
        Attachment procedure =
                switch (scenario) {
                    case COLD_STARTS_PASS -> SamplePapers.COLD_STARTS_PROCEDURE;
                    case REPEAT_SOAK_FAILS -> SamplePapers.REPEAT_PROCEDURE;
                    default ->
                        scenario.onRails()
                                ? SamplePapers.RAILS_PROCEDURE
                                : scenario.onParts() ? SamplePapers.PARTS_PROCEDURE : SamplePapers.PROCEDURE;
                };
        return new Simulation(
                scenario,
                SamplePapers.read(procedure),
                procedure,
                Optional.of(scenario.onRails() ? SamplePapers.metered(scenario.meterWatts()) : SamplePapers.JOB_SHEET),
                List.of(),
                Instant.parse("2026-11-24T09:12:40Z"),
                Specimen.of(scenario));
    }

    public Simulation withEarlier(List<EarlierAttempt> attempts) {
        return new Simulation(scenario, procedure, procedureText, jobSheet, attempts, start, specimen);
    }

    public Simulation startingAt(Instant moment) {
        return new Simulation(scenario, procedure, procedureText, jobSheet, earlier, moment, specimen);
    }

    public Simulation following(Attachment otherProcedure) {
        return new Simulation(
                scenario, SamplePapers.read(otherProcedure), otherProcedure, jobSheet, earlier, start, specimen);
    }

    /** The same with another machine of the model. */
    Simulation on(Specimen other) {
        return new Simulation(scenario, procedure, procedureText, jobSheet, earlier, start, other);
    }

    public String runId() {
        return new UUID(new Random(specimen.seed()).nextLong(), new Random(~specimen.seed()).nextLong())
                .toString()
                .replace("-", "");
    }

    /** Gives all records of the run, header first. */
    public void play(Consumer<LogRecord> log) {
        log.accept(header());
        new Play(log).play();
    }

    public Header header() {
        // In a fixed order: Map.of has another one in each Java process, and the log must be the same in all.
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        facts.put("machine", texts("make", "Alder Works", "model", "AW-17 Kestrel", "serial", "AWK17-004711"));
        facts.put("firmware", texts("version", "1.07"));
        facts.put("os", texts("family", "Simulated bench system"));
        facts.put("cpu", texts("name", "Simulated 14-core processor"));
        facts.put("gpu", texts("1.name", "Corvid G7 150W"));
        facts.put("memory", texts("total", "32768 MiB"));
        facts.put("power", texts("1.name", "BAT0", "adapter", "240 W"));
        return new Header(
                runId(),
                start,
                TICKET,
                "",
                earlier,
                true,
                facts,
                List.of(),
                "simulation",
                procedureText,
                jobSheet,
                OptionalDouble.of(specimen.ambientCelsius()),
                "thermometer 30 cm from the intake (simulated)",
                procedure.samplingPeriod().plus(Duration.ofSeconds(1)));
    }

    /** The run while it lasts: the agent's conduct, a tick of the machine at a time. */
    private final class Play {
        private static final long NANOS_PER_TICK = 100_000_000;
        private static final long READY_TICKS = 12;
        private static final long CAUGHT_TICKS = 200;
        private static final double LIMIT_CHANGE = 0.01;
        private static final double COLD_CELSIUS = 45;
        private static final double SLEEP_SECONDS = 42;
        private static final double OFF_SECONDS = 600;

        /** What runs while a person is asked for something. */
        private static final Stage NOTHING =
                new Stage("nothing", List.of(), Optional.empty(), Optional.empty(), Duration.ofSeconds(1), 0);

        private final Consumer<LogRecord> log;
        private final Random random = new Random(specimen.seed());
        private final Laptop laptop =
                new Laptop(specimen.ambientCelsius(), specimen.charge(), new Random(specimen.seed() + 1));
        private final LaptopSensors sensors = new LaptopSensors(
                laptop,
                new Random(specimen.seed() + 2),
                scenario.onRails() || specimen.fullyEquipped(),
                specimen.fullyEquipped());
        private final List<Role> workRoles = procedure.stages().stream()
                .flatMap(s -> s.loads().stream().map(l -> roleOf(l, s)))
                .distinct()
                .toList();
        private final List<Channel> channels = new ArrayList<>(sensors.channels());
        private final long ticksPerSample =
                Math.max(1, procedure.samplingPeriod().toNanos() / NANOS_PER_TICK);

        private int segment;
        private long segmentTick;
        private long awayNanos;
        private long tick;
        private long lastNanos;
        private long samples;
        private long events;
        private Stage stage;
        private boolean inStage;
        private long stageBeginTick;
        private long loadBeginTick;
        private double lastLevel;
        private boolean ended;
        private double lastLimit = Double.NaN;
        private double lastOnline = Double.NaN;
        private double lastGpuCelsius = Double.NaN;
        private String silentSource = "";
        private boolean dropoutCaught;
        private boolean keyboardGone;
        private double silentSince = Double.NaN;

        Play(Consumer<LogRecord> log) {
            this.log = log;
            for (Role role : workRoles) {
                channels.add(Channel.of(role.word() + ".work.verified", Metric.WORK_VERIFIED, role, "load"));
                channels.add(Channel.of(role.word() + ".work.errors", Metric.WORK_ERRORS, role, "load"));
            }
            channels.add(Channel.of("witness.lateness", Metric.SAMPLE_LATENESS, Role.WITNESS, "agent"));
        }

        void play() {
            String bootId = new UUID(random.nextLong(), random.nextLong()).toString();
            log.accept(new Boot(at(), wall(), bootId, 412.6, true, Optional.empty()));
            log.accept(new ChannelTable(at(), channels));
            specimen.build(laptop, sensors);
            scenario.before(laptop, sensors);
            sample();
            if (scenario.onParts() || specimen.fullyEquipped()) {
                DEVICES.stream()
                        .filter(d -> !procedure.absent().contains(Role.GPU_DISCRETE)
                                || !d.get("role").equals(Role.GPU_DISCRETE.word()))
                        .forEach(d -> event(EventKind.DEVICE_PRESENT, d));
            }
            for (Stage next : procedure.stages()) {
                stage = next;
                if (!enter() || !run()) {
                    return;
                }
            }
            close(CloseReason.COMPLETED, "");
        }

        /** Starts the loads and proves that the witness can see; false if the run ended. */
        private boolean enter() {
            if (stage.asks().isPresent() && !asked(stage.asks().get())) {
                return false;
            }
            loadBeginTick = tick;
            lastLevel = 0;
            if (!stage.loads().isEmpty()) {
                for (LoadKind load : stage.loads()) {
                    event(
                            EventKind.LOAD_BEGIN,
                            facts(
                                    "load",
                                    load.word(),
                                    "role",
                                    roleOf(load, stage).word(),
                                    "scheduling",
                                    "idle"));
                }
                if (!ticks(READY_TICKS)) {
                    return false;
                }
                silentSource = LaptopSensors.DROPOUT_SOURCE;
                dropoutCaught = false;
                for (long i = 0; i < CAUGHT_TICKS && !dropoutCaught; i++) {
                    if (!ticks(1)) {
                        return false;
                    }
                }
                for (LoadKind load : stage.loads()) {
                    event(
                            EventKind.WITNESS_CHECK,
                            facts(
                                    "check",
                                    "planted-miscomputation",
                                    "caught",
                                    true,
                                    "stage",
                                    stage.id(),
                                    "load",
                                    load.word()));
                }
                event(
                        EventKind.WITNESS_CHECK,
                        facts(
                                "check",
                                "planted-dropout",
                                "caught",
                                dropoutCaught,
                                "stage",
                                stage.id(),
                                "source",
                                LaptopSensors.DROPOUT_SOURCE,
                                "standIn",
                                false));
            }
            inStage = true;
            stageBeginTick = tick;
            event(
                    EventKind.STAGE_BEGIN,
                    facts("stage", stage.id(), "seconds", stage.duration().toNanos() / 1e9));
            return true;
        }

        /** The technician does what the screen says; false if the run ended meanwhile. */
        private boolean asked(Ask what) {
            event(EventKind.OPERATOR_ASKED, facts("what", what.word(), "stage", stage.id()));
            Stage waiting = stage;
            stage = NOTHING;
            long since = tick;
            boolean goesOn =
                    switch (what) {
                        case COOL_DOWN -> {
                            boolean on = true;
                            while (on && !(lastGpuCelsius < COLD_CELSIUS)) {
                                on = ticks(1);
                            }
                            yield on;
                        }
                        case REPLUG ->
                            ticks(60) && plug(PowerSupply.Adapter.OFF, 60) && plug(PowerSupply.Adapter.RECOGNISED, 40);
                        case SLEEP -> ticks(60) && sleep();
                        case POWER_OFF -> ticks(60) && powerOff();
                    };
            stage = waiting;
            event(
                    EventKind.OPERATOR_DONE,
                    facts(
                            "what",
                            what.word(),
                            "stage",
                            stage.id(),
                            "seconds",
                            (tick - since) * Scenario.TICK_SECONDS + (what == Ask.POWER_OFF ? OFF_SECONDS : 0)));
            return goesOn;
        }

        private boolean plug(PowerSupply.Adapter state, long ticks) {
            laptop.adapter(state);
            return ticks(ticks);
        }

        /** Our clock stands still, the others do not. */
        private boolean sleep() {
            away(SLEEP_SECONDS);
            event(EventKind.SUSPENDED, facts("seconds", SLEEP_SECONDS));
            return ticks(20);
        }

        /** Off, cold, on again: another boot, whose clock begins anew. */
        private boolean powerOff() {
            away(OFF_SECONDS);
            segment++;
            segmentTick = tick;
            lastNanos = 0;
            String bootId = new UUID(random.nextLong(), random.nextLong()).toString();
            log.accept(new Boot(at(), wall(), bootId, 24.5, true, Optional.empty()));
            log.accept(new ChannelTable(at(), channels));
            sample();
            return ticks(20);
        }

        private void away(double seconds) {
            laptop.load(Laptop.Load.NONE);
            for (int i = 0; i < Math.round(seconds); i++) {
                laptop.step(1);
            }
            awayNanos += Math.round(seconds * 1e9);
        }

        private boolean run() {
            if (!ticks(stage.duration().toNanos() / NANOS_PER_TICK)) {
                return false;
            }
            event(EventKind.STAGE_END, facts("stage", stage.id(), "why", "completed"));
            inStage = false;
            endLoads();
            return true;
        }

        private void endLoads() {
            for (LoadKind load : stage.loads()) {
                event(EventKind.LOAD_END, facts("load", load.word(), "why", "stopped"));
            }
            laptop.load(Laptop.Load.NONE);
        }

        /** Lets the machine run for some ticks; false if the run ended meanwhile. */
        private boolean ticks(long count) {
            for (long i = 0; i < count; i++) {
                if (seconds() >= scenario.powerCutSeconds()) {
                    return false;
                }
                scenario.during(laptop, sensors, seconds(), random);
                laptop.load(demand());
                laptop.step(Scenario.TICK_SECONDS);
                tick++;
                switched();
                keyboard();
                if (tick % ticksPerSample == 0) {
                    sample();
                }
                if (ended) {
                    return false;
                }
            }
            return true;
        }

        /** What the stage's loads ask for at this moment. */
        private Laptop.Load demand() {
            double cpu = 0;
            double memory = 0;
            double integrated = 0;
            double discrete = 0;
            double since = inStage ? (tick - stageBeginTick) * Scenario.TICK_SECONDS : 0;
            for (LoadKind load : stage.loads()) {
                double share =
                        switch (load) {
                            case CPU, MEMORY, GPU_MIX -> 1;
                            case GPU_CORE -> 0.80;
                            case GPU_MEMORY -> 0.74;
                            case GPU_RAMP -> rampLevel(since);
                            case GPU_STEPS -> since / stepPeriod(since) % 1 < STEP_DUTY ? 1 : 0;
                        };
                switch (roleOf(load, stage)) {
                    case CPU -> cpu = share;
                    case MEMORY -> memory = share;
                    case GPU_INTEGRATED -> integrated = share;
                    default -> discrete = share;
                }
            }
            return new Laptop.Load(cpu, memory, integrated, discrete);
        }

        /** What the worker would have told of levels and edges since the tick before. */
        private void switched() {
            if (!inStage) {
                return;
            }
            double since = (tick - stageBeginTick) * Scenario.TICK_SECONDS;
            if (stage.loads().contains(LoadKind.GPU_RAMP) && rampLevel(since) != lastLevel) {
                lastLevel = rampLevel(since);
                event(
                        EventKind.LOAD_LEVEL,
                        facts("load", LoadKind.GPU_RAMP.word(), "level", lastLevel, "seconds", 0.1));
            }
            boolean rateEnds = Math.round(since * 10) % Math.round(RATE_SECONDS * 10) == 0;
            if (stage.loads().contains(LoadKind.GPU_STEPS) && rateEnds && since > 0) {
                double period = stepPeriod(since - 1);
                long pairs = Math.round(RATE_SECONDS / period);
                StringBuilder edges = new StringBuilder("0");
                for (long i = 1; i < 2 * pairs; i++) {
                    // The worker wakes some tens of microseconds late.
                    edges.append(',').append(Math.round(i * period / 2 * 1e6) + random.nextInt(90));
                }
                event(
                        EventKind.LOAD_EDGES,
                        facts(
                                "load",
                                LoadKind.GPU_STEPS.word(),
                                "period",
                                period,
                                "duty",
                                STEP_DUTY,
                                "since",
                                (tick - loadBeginTick) * Scenario.TICK_SECONDS - RATE_SECONDS,
                                "edges",
                                edges.toString()));
            }
        }

        private void keyboard() {
            if (scenario.keyboardGone(seconds()) != keyboardGone) {
                keyboardGone = !keyboardGone;
                event(keyboardGone ? EventKind.DEVICE_LEFT : EventKind.DEVICE_ARRIVED, DEVICES.get(0));
            }
        }

        private void sample() {
            double late = -0.0008 * StrictMath.log(1 - random.nextDouble()) + (random.nextInt(400) == 0 ? 0.012 : 0);
            lastNanos = Math.max(lastNanos + 1, (tick - segmentTick) * NANOS_PER_TICK + (long) (late * 1e9));
            double[] sensed = sensors.read(silentSource);
            double[] values = Arrays.copyOf(sensed, channels.size());
            int next = sensed.length;
            for (Role role : workRoles) {
                values[next++] = Math.floor(verified(role));
                values[next++] = 0;
            }
            values[next] = Math.rint(late * 1e6) / 1e6;
            log.accept(new Sample(new RunTime(segment, lastNanos), wall(), values));
            samples++;
            afterSample(values);
        }

        private double verified(Role role) {
            return switch (role) {
                case CPU -> laptop.cpu().units();
                case MEMORY -> laptop.cpu().memoryUnits();
                case GPU_INTEGRATED -> laptop.cpu().integratedUnits();
                default -> laptop.gpu().units();
            };
        }

        private void afterSample(double[] values) {
            dropout();
            double limit = value(values, LaptopSensors.GPU_POWER_LIMIT);
            if (Math.abs(limit - lastLimit) > LIMIT_CHANGE * lastLimit) {
                event(
                        EventKind.LIMIT_CHANGED,
                        facts("channel", LaptopSensors.GPU_POWER_LIMIT, "from", lastLimit, "to", limit));
            }
            lastLimit = limit;
            lastGpuCelsius = value(values, LaptopSensors.GPU_TEMPERATURE);
            double online = value(values, LaptopSensors.ADAPTER);
            boolean changed = !Double.isNaN(lastOnline) && online != lastOnline;
            if (changed) {
                event(online == 1 ? EventKind.ADAPTER_ON : EventKind.ADAPTER_OFF, Map.of());
            }
            lastOnline = online;
            boolean loaded = stage != null && !stage.loads().isEmpty();
            if (!hot(values)
                    && changed
                    && online == 0
                    && loaded
                    && procedure.safety().stopWhenAdapterLost()) {
                safetyStop(Role.ADAPTER, "adapter", "the adapter stopped feeding the machine");
            }
        }

        private void dropout() {
            if (!Double.isNaN(silentSince) && silentSource.isEmpty()) {
                event(
                        EventKind.SOURCE_BACK,
                        facts("source", LaptopSensors.DROPOUT_SOURCE, "seconds", seconds() - silentSince));
                silentSince = Double.NaN;
            }
            if (!silentSource.isEmpty()) {
                event(
                        EventKind.SOURCE_SILENT,
                        facts("source", silentSource, "detail", "no answer within the deadline", "planted", true));
                dropoutCaught = true;
                silentSince = seconds();
                silentSource = "";
            }
        }

        private boolean hot(double[] values) {
            for (int i = 0; i < channels.size(); i++) {
                Channel c = channels.get(i);
                Double ceiling = procedure.safety().stopAboveCelsius().get(c.role());
                if (ceiling != null && c.metric().equals(Metric.TEMPERATURE) && values[i] > ceiling) {
                    safetyStop(
                            c.role(),
                            "ceiling",
                            c.id() + " reads " + values[i] + " Cel, above the safety ceiling of " + ceiling + " Cel");
                    return true;
                }
            }
            return false;
        }

        private void safetyStop(Role role, String why, String detail) {
            endLoads();
            event(EventKind.SAFETY_STOP, facts("role", role.word(), "why", why, "detail", detail));
            if (inStage) {
                event(EventKind.STAGE_END, facts("stage", stage.id(), "why", "stopped"));
            }
            close(CloseReason.SAFETY_STOP, detail);
        }

        private void close(CloseReason reason, String detail) {
            log.accept(new Close(at(), wall(), reason.word(), detail, samples, events));
            ended = true;
        }

        private void event(EventKind kind, Map<String, Object> facts) {
            log.accept(Event.of(at(), wall(), kind, facts));
            events++;
        }

        private double value(double[] values, String id) {
            for (int i = 0; i < channels.size(); i++) {
                if (channels.get(i).id().equals(id)) {
                    return values[i];
                }
            }
            throw new IllegalArgumentException("no channel " + id);
        }

        private double seconds() {
            return tick * Scenario.TICK_SECONDS;
        }

        /** A little after whatever came before: what is written next happens next. */
        private RunTime at() {
            lastNanos = Math.max(lastNanos + 180_000, (tick - segmentTick) * NANOS_PER_TICK);
            return new RunTime(segment, lastNanos);
        }

        private Instant wall() {
            return start.plusNanos(segmentTick * NANOS_PER_TICK + lastNanos + awayNanos);
        }
    }

    /** What the buses hold; the keyboard comes first. */
    private static final List<Map<String, Object>> DEVICES = List.of(
            facts("role", "input", "device", "keyboard: built-in", "id", "input-isa0060-serio0-input0"),
            facts("role", "storage", "device", "disk: Simulated 1 TB", "id", "disk-0000:02:00.0-simulated-1-tb"),
            facts("role", "network", "device", "wireless network: simulated", "id", "pci-0000:03:00.0"),
            facts("role", "gpu-discrete", "device", "gpu-discrete: Corvid G7 150W", "id", "pci-0000:01:00.0"));

    private static final double STEP_DUTY = 0.5;
    private static final double RATE_SECONDS = 12;

    /** 25, 50, 75, 100 % and down again, over and over. */
    private static double rampLevel(double since) {
        return 0.25 * (1 + Math.floor(since / 15) % 4);
    }

    /** Shorter from rate to rate; what is below the simulation's own ticks is told in the log only. */
    private static double stepPeriod(double since) {
        return 4 / StrictMath.pow(4, Math.floor(since / RATE_SECONDS) % 5);
    }

    private static Role roleOf(LoadKind load, Stage stage) {
        return switch (load) {
            case CPU -> Role.CPU;
            case MEMORY -> Role.MEMORY;
            default -> stage.gpu().orElseThrow();
        };
    }

    private static Map<String, String> texts(String... namesAndTexts) {
        Map<String, String> texts = new LinkedHashMap<>();
        for (int i = 0; i < namesAndTexts.length; i += 2) {
            texts.put(namesAndTexts[i], namesAndTexts[i + 1]);
        }
        return texts;
    }

    private static Map<String, Object> facts(Object... namesAndValues) {
        Map<String, Object> facts = new LinkedHashMap<>();
        for (int i = 0; i < namesAndValues.length; i += 2) {
            facts.put((String) namesAndValues[i], namesAndValues[i + 1]);
        }
        return facts;
    }
}
