// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelKind;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.store.LogStore;
import dev.loadwitness.runlog.file.write.RunLogWriter;
import dev.loadwitness.runlog.file.write.WriterListener;
import dev.loadwitness.runlog.file.write.WriterOptions;
import java.io.Closeable;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.function.Consumer;
import java.util.function.Predicate;
import java.util.function.UnaryOperator;

/**
 * Builds small logs of the invented shop. What is not said otherwise is a sound machine: 140 W of a limit of 150 W,
 * 72 Cel under load, 1,000 units of work a second, on mains, no throttling, closed when every stage ran to its end.
 */
public final class LogBuilder {
    /** Position in the run; {@code stage} is the one in whose time the moment lies, empty outside any. */
    public record Moment(int segment, double seconds, String stage, double intoStage, boolean loaded) {}

    /** A gauge's reading, or a counter's growth per second; NaN for no answer. */
    @FunctionalInterface
    public interface Curve {
        double at(Moment moment);
    }

    private record Stage(String id, double seconds, String yaml, Role loads) {}

    private record Timed(int segment, double seconds, EventKind kind, Map<String, Object> facts) {}

    private final Map<String, Channel> channels = new LinkedHashMap<>();
    private final Map<String, Curve> curves = new LinkedHashMap<>();
    private final List<Stage> stages = new ArrayList<>();
    private final List<String> neverRun = new ArrayList<>();
    private final Map<String, String> criteria = new LinkedHashMap<>();
    private final List<Timed> events = new ArrayList<>();
    private final List<EarlierAttempt> earlier = new ArrayList<>();
    private Instant begun = Instant.parse("2026-11-25T14:00:00.000Z");
    private String runId = "0123456789abcdef0123456789abcdef";
    private String ticket = "FBR-2026-0142";
    private String decision = "{rule: guarded, guard-factor: 1}";
    private String sheet = "";
    private String absent = "";
    private String serial = "";
    private List<String> withheld = List.of();
    private double period = 1;
    private boolean simulated;
    private OptionalDouble ambient = OptionalDouble.of(22.5);
    private int checks = 2;
    private boolean caught = true;
    private double cutAt = Double.POSITIVE_INFINITY;
    private String nextBoot;
    private Map<String, String> evidence = Map.of("crash-store", "empty");
    private boolean nextUtcTrusted = true;
    private boolean goesOn;
    private int fruitlessBoots;
    private final List<Timed> nextEvents = new ArrayList<>();
    private boolean closes = true;
    private CloseReason reason = CloseReason.COMPLETED;
    private String detail = "";
    private Predicate<Moment> sampled = m -> true;
    private double listedAnewAt = Double.NaN;
    private final Map<String, String> asks = new LinkedHashMap<>();
    private final Map<String, String> notDone = new LinkedHashMap<>();
    private boolean sameBootAfterPowerOff;
    private double bootSeconds = 12.25;

    private LogBuilder() {}

    /** Channels of a machine with a discrete GPU; no stage, no criterion but the evidence. */
    public static LogBuilder laptop() {
        LogBuilder log = new LogBuilder();
        Map<LimitType, Double> limits = Map.of(LimitType.THROTTLED, 89.0, LimitType.HIGH_CRITICAL, 95.0);
        Role gpu = Role.GPU_DISCRETE;
        log.channel(
                Channel.of("gpu.temperature", Metric.TEMPERATURE, gpu, "gpu")
                        .withQuality(1, Double.NaN)
                        .withLimits(limits),
                m -> (m.loaded() ? 72 : 45) + Math.floor(m.seconds()) % 2);
        log.channel(Channel.of("gpu.power", Metric.POWER, gpu, "gpu"), m -> m.loaded() ? 140 : 15);
        log.channel(Channel.of("gpu.power.limit", Metric.POWER_LIMIT, gpu, "gpu"), m -> 150);
        log.channel(
                Channel.of("gpu.energy", Metric.ENERGY, gpu, "gpu"),
                m -> log.curves.get("gpu.power").at(m));
        for (Cause cause : Cause.values()) {
            log.channel(
                    Channel.of("gpu.throttle." + cause.word(), Metric.THROTTLE_ACTIVE, gpu, "gpu")
                            .withCause(cause),
                    m -> 0);
        }
        log.channel(Channel.of("gpu.work.verified", Metric.WORK_VERIFIED, gpu, "load"), m -> m.loaded() ? 1000 : 0);
        log.channel(Channel.of("gpu.work.errors", Metric.WORK_ERRORS, gpu, "load"), m -> 0);
        log.channel(
                Channel.of("cpu.temperature", Metric.TEMPERATURE, Role.CPU, "hwmon/coretemp")
                        .withQuality(1, Double.NaN)
                        .withLimits(Map.of(LimitType.THROTTLED, 100.0)),
                m -> 60 + Math.floor(m.seconds()) % 2);
        log.channel(Channel.of("adapter.online", Metric.ADAPTER_ONLINE, Role.ADAPTER, "power_supply"), m -> 1);
        return log.criterion("evidence", "mandatory: yes");
    }

    /** Half a minute idle, then {@code seconds} of load on the discrete GPU, with one criterion beside the evidence. */
    public static LogBuilder gpuSoak(double seconds, String criterion, String settings) {
        return laptop().idle("idle", 30).soak("soak", seconds).criterion(criterion, settings);
    }

    public LogBuilder channel(Channel channel, Curve curve) {
        channels.put(channel.id(), channel);
        curves.put(channel.id(), curve);
        return this;
    }

    public LogBuilder curve(String channel, Curve curve) {
        if (!channels.containsKey(channel)) {
            throw new IllegalArgumentException("no channel " + channel);
        }
        curves.put(channel, curve);
        return this;
    }

    public LogBuilder describe(String channel, UnaryOperator<Channel> change) {
        channels.compute(channel, (id, c) -> change.apply(c));
        return this;
    }

    public void eachChannel(Consumer<Channel> visitor) {
        List.copyOf(channels.values()).forEach(visitor);
    }

    public LogBuilder without(Predicate<Channel> unwanted) {
        List<String> ids =
                channels.values().stream().filter(unwanted).map(Channel::id).toList();
        ids.forEach(channels::remove);
        return this;
    }

    public LogBuilder idle(String id, double seconds) {
        stages.add(new Stage(id, seconds, "  - {id: " + id + ", duration: " + milliseconds(seconds) + "}\n", null));
        return this;
    }

    public LogBuilder soak(String id, double seconds) {
        return stage(id, seconds, "loads: [gpu-mix], gpu: gpu-discrete, proves: gpu-discrete", Role.GPU_DISCRETE);
    }

    /** A stage with the keys given; {@code loads} is the part that the curves see as loaded. */
    public LogBuilder stage(String id, double seconds, String keys, Role loads) {
        stages.add(new Stage(
                id, seconds, "  - {id: " + id + ", duration: " + milliseconds(seconds) + ", " + keys + "}\n", loads));
        return this;
    }

    /** A soak that ran for {@code seconds} and that the procedure gives {@code otherwise}, unless the rail is repaired. */
    public LogBuilder soakOfRail(String id, double seconds, double otherwise, String rail) {
        soak(id, seconds);
        Stage last = stages.remove(stages.size() - 1);
        String yaml = last.yaml.replace(
                "duration: " + milliseconds(seconds),
                "if-repaired: {" + rail + ": " + milliseconds(seconds) + "}, duration: " + milliseconds(otherwise));
        stages.add(new Stage(id, seconds, yaml, last.loads));
        return this;
    }

    /** A soak of the discrete GPU that first asks for something, which is done at once. */
    public LogBuilder asking(String what, String id, double seconds) {
        asks.put(id, what);
        return stage(
                id,
                seconds,
                "asks: " + what + ", loads: [gpu-mix], gpu: gpu-discrete, proves: gpu-discrete",
                Role.GPU_DISCRETE);
    }

    /** What that stage asks for is not done, and the stage is left out. */
    public LogBuilder notDone(String id, String why) {
        notDone.put(id, why);
        return this;
    }

    /** Whoever should switch off only starts the agent anew. */
    public LogBuilder neverReallyOff() {
        sameBootAfterPowerOff = true;
        return this;
    }

    /** How long after power-on the boot record of each later segment is written. */
    public LogBuilder bootsIn(double seconds) {
        bootSeconds = seconds;
        return this;
    }

    /** A stage that the procedure has and the run has not. */
    public LogBuilder neverRun(String id, String keys) {
        neverRun.add("  - {id: " + id + ", duration: 10 s, " + keys + "}\n");
        return this;
    }

    private static String milliseconds(double seconds) {
        return Math.round(seconds * 1000) + " ms";
    }

    public LogBuilder criterion(String id, String settings) {
        criteria.put(id, settings);
        return this;
    }

    /** A part that the procedure wants absent. */
    public LogBuilder absent(String part) {
        absent = "absent: [" + part + "]\n";
        return this;
    }

    public LogBuilder decision(String yaml) {
        decision = yaml;
        return this;
    }

    public LogBuilder jobSheet(String lines) {
        sheet = "format: loadwitness-job-sheet/1\nticket: FBR-2026-0142\n" + lines;
        return this;
    }

    public LogBuilder ticket(String text) {
        ticket = text;
        return this;
    }

    public LogBuilder begun(String utc) {
        begun = Instant.parse(utc);
        return this;
    }

    public LogBuilder runId(String id) {
        runId = id;
        return this;
    }

    public LogBuilder earlier(String id, String lastChain, String end) {
        earlier.add(new EarlierAttempt(id, lastChain, end));
        return this;
    }

    public LogBuilder period(double seconds) {
        period = seconds;
        return this;
    }

    public LogBuilder simulated() {
        simulated = true;
        return this;
    }

    /** Of the machine; without one, its runs cannot be told from those of others. */
    public LogBuilder serial(String number) {
        serial = number;
        return this;
    }

    public LogBuilder withheld(String what) {
        withheld = List.of(what);
        return this;
    }

    /** Nobody took the temperature of the room. */
    public LogBuilder withoutAmbient() {
        ambient = OptionalDouble.empty();
        return this;
    }

    public LogBuilder event(double seconds, EventKind kind, Map<String, Object> facts) {
        events.add(new Timed(0, seconds, kind, facts));
        return this;
    }

    /** How many faults are planted before each soak, and whether they are caught. */
    public LogBuilder witnessChecks(int count, boolean areCaught) {
        checks = count;
        caught = areCaught;
        return this;
    }

    /** The log breaks off: nothing after this moment, no close. */
    public LogBuilder breaksOff(double seconds) {
        cutAt = seconds;
        closes = false;
        return this;
    }

    /** Breaks off, and is closed in the next segment, whose boot has this id ({@code boot-0} is the first one's). */
    public LogBuilder restarts(double seconds, String bootId) {
        cutAt = seconds;
        nextBoot = bootId;
        reason = CloseReason.INTERRUPTED;
        return this;
    }

    /** What the next boot finds of how the one before ended; empty: it writes no evidence. */
    public LogBuilder evidence(Map<String, String> facts) {
        evidence = facts;
        return this;
    }

    /** The clock is wrong at the next boot. */
    public LogBuilder clockLost() {
        nextUtcTrusted = false;
        return this;
    }

    /** Breaks off, and goes on in the next segment with the stage that was running, to the end. */
    public LogBuilder resumes(double seconds, String bootId) {
        restarts(seconds, bootId);
        goesOn = true;
        reason = CloseReason.COMPLETED;
        return this;
    }

    /** Breaks off, boots so many times without a sample, and is closed as a restart loop in the last of those boots. */
    public LogBuilder loops(double seconds, int boots) {
        restarts(seconds, "boot-1");
        fruitlessBoots = boots - 1;
        reason = CloseReason.RESTART_LOOP;
        return this;
    }

    /** After {@link #restarts}: a close with this reason instead. */
    public LogBuilder closedAs(CloseReason why) {
        reason = why;
        return this;
    }

    /** An event at the beginning of the next segment. */
    public LogBuilder eventAfterRestart(EventKind kind, Map<String, Object> facts) {
        nextEvents.add(new Timed(1, 2, kind, facts));
        return this;
    }

    /** The running stage is stopped and the log closed. */
    public LogBuilder stops(double seconds, CloseReason why, String sentence) {
        cutAt = seconds;
        reason = why;
        detail = sentence;
        return this;
    }

    /** The same channels once more, as after a device came or went, before the sample of this second of the run. */
    public LogBuilder listedAnewAt(double seconds) {
        listedAnewAt = seconds;
        return this;
    }

    public LogBuilder sampledWhen(Predicate<Moment> condition) {
        sampled = condition;
        return this;
    }

    public String procedure() {
        StringBuilder yaml = new StringBuilder("format: loadwitness-procedure/1\nname: bench-test\n");
        yaml.append("title: Made for a test\nsampling: ")
                .append(milliseconds(period))
                .append('\n')
                .append(absent)
                .append("stages:\n");
        stages.forEach(s -> yaml.append(s.yaml));
        neverRun.forEach(yaml::append);
        yaml.append("safety:\n  stop-above: {cpu: 105 Cel, gpu-discrete: 105 Cel, gpu-integrated: 105 Cel}\n");
        yaml.append("  silent-after: 30 s\n  adapter-lost: stop\n  unguarded: refuse\ndecision: ")
                .append(decision)
                .append("\ncriteria:\n");
        criteria.forEach((id, settings) ->
                yaml.append("  ").append(id).append(": {").append(settings).append("}\n"));
        return yaml.toString();
    }

    /** The header, and all that follows it, one by one. */
    private void records(Consumer<LogRecord> sink) {
        sink.accept(header());
        sink.accept(new Boot(new RunTime(0, 0), begun, "boot-0", 12.25, true, Optional.empty()));
        Run run = new Run(sink);
        double begin = 0;
        for (Stage stage : stages) {
            run.stage(stage, begin);
            begin += stage.seconds;
        }
        run.end(Math.min(begin, cutAt));
    }

    /** The stages that had not ended when the log broke off. */
    private List<Stage> unfinished() {
        List<Stage> left = new ArrayList<>();
        double end = 0;
        for (Stage stage : stages) {
            end += stage.seconds;
            if (end > cutAt) {
                left.add(stage);
            }
        }
        return left;
    }

    private Header header() {
        return new Header(
                runId,
                begun,
                ticket,
                "",
                earlier,
                simulated,
                Map.of("machine", machine()),
                withheld,
                "0.1.0",
                Attachment.of("bench-test.yaml", procedure()),
                sheet.isEmpty() ? Optional.empty() : Optional.of(Attachment.of("job.yaml", sheet)),
                ambient,
                "thermometer 30 cm from the intake",
                Duration.ofSeconds(1));
    }

    private Map<String, String> machine() {
        Map<String, String> facts = new LinkedHashMap<>(Map.of("make", "Alder Works"));
        facts.put("model", "AW-17 Kestrel");
        if (!serial.isEmpty()) {
            facts.put("serial", serial);
        }
        return facts;
    }

    private Boot boot(int segment, String id) {
        return new Boot(new RunTime(segment, 0), begun, id, segment == 0 ? 12.25 : bootSeconds, true, Optional.empty());
    }

    private final class Run {
        private final Consumer<LogRecord> sink;
        private final List<Channel> table = List.copyOf(channels.values());
        private final double[] counted = new double[table.size()];
        private final List<Timed> due = new ArrayList<>(events);
        private long samples;
        private long eventCount;
        private long ticks;
        private int segment;
        private double cut = cutAt;
        private double segmentBegan;
        private double utcLater;

        Run(Consumer<LogRecord> sink) {
            this.sink = sink;
            sink.accept(new ChannelTable(new RunTime(0, 0), table));
            for (int i = 0; i < counted.length; i++) {
                counted[i] = 5000 + i; // counters do not begin at zero
            }
            sample(new Moment(0, 0, "", 0, false));
        }

        void stage(Stage stage, double begin) {
            if (begin >= cut) {
                return;
            }
            if (asks.containsKey(stage.id) && !ask(stage, begin)) {
                return;
            }
            if (stage.yaml.contains("proves:")) {
                for (int i = 0; i < checks; i++) {
                    add(begin, EventKind.WITNESS_CHECK, facts("check", "planted-" + i, "caught", caught));
                }
            }
            add(begin, EventKind.STAGE_BEGIN, facts("stage", stage.id, "seconds", stage.seconds));
            double end = Math.min(begin + stage.seconds, cut);
            while ((ticks + 1) * period <= end + 1e-9) {
                ticks++;
                double now = ticks * period;
                while (!due.isEmpty() && due.get(0).seconds <= now) {
                    Timed t = due.remove(0);
                    add(t.seconds, t.kind, t.facts);
                }
                if (now == listedAnewAt) {
                    sink.accept(new ChannelTable(time(now), table));
                }
                sample(new Moment(segment, now, stage.id, now - begin, stage.loads != null));
            }
            if (end >= begin + stage.seconds) {
                add(end, EventKind.STAGE_END, facts("stage", stage.id, "why", "completed"));
            } else if (closes && nextBoot == null) {
                add(end, EventKind.STAGE_END, facts("stage", stage.id, "why", "stopped"));
            }
        }

        /** False if the stage is left out. Its time passes all the same, without samples. */
        private boolean ask(Stage stage, double begin) {
            String what = asks.get(stage.id);
            add(begin, EventKind.OPERATOR_ASKED, facts("what", what, "stage", stage.id));
            if (notDone.containsKey(stage.id)) {
                add(begin, EventKind.STAGE_LEFT_OUT, facts("stage", stage.id, "why", notDone.get(stage.id)));
                return false;
            }
            if (what.equals("sleep")) {
                add(begin, EventKind.SUSPENDED, facts("seconds", 40.0));
            }
            if (what.equals("power-off")) {
                segment++;
                segmentBegan = begin;
                sink.accept(boot(segment, sameBootAfterPowerOff ? "boot-0" : "boot-" + segment));
                sink.accept(new ChannelTable(new RunTime(segment, 0), table));
            }
            add(begin, EventKind.OPERATOR_DONE, facts("what", what, "stage", stage.id, "seconds", 60.0));
            return true;
        }

        void end(double at) {
            due.forEach(t -> add(Math.max(t.seconds, at), t.kind, t.facts));
            due.clear();
            double seconds = at;
            if (nextBoot != null) {
                segment++;
                segmentBegan = 0;
                seconds = 3;
                nextBoot(nextBoot);
                for (int i = 0; i < fruitlessBoots; i++) {
                    segment++;
                    nextBoot("boot-" + segment);
                }
                nextEvents.forEach(t -> add(t.seconds, t.kind, t.facts));
            }
            if (goesOn) {
                cut = Double.POSITIVE_INFINITY;
                ticks = (long) Math.ceil(seconds / period);
                double begin = ticks * period;
                for (Stage stage : unfinished()) {
                    stage(stage, begin);
                    begin += stage.seconds;
                }
                seconds = begin;
            }
            if (closes) {
                sink.accept(new Close(time(seconds), utc(seconds), reason.word(), detail, samples, eventCount));
            }
        }

        /** Each next boot's first record comes two minutes after the end of the one before. */
        private void nextBoot(String id) {
            utcLater = utcLater == 0 ? cutAt + 120 : utcLater + 120;
            sink.accept(new Boot(new RunTime(segment, 0), utc(0), id, bootSeconds, nextUtcTrusted, Optional.empty()));
            sink.accept(new ChannelTable(new RunTime(segment, 0), table));
            if (!evidence.isEmpty()) {
                sink.accept(new BootEvidence(new RunTime(segment, 0), evidence));
            }
        }

        private Instant utc(double seconds) {
            return begun.plusMillis(Math.round((seconds + utcLater) * 1000));
        }

        private RunTime time(double seconds) {
            return new RunTime(segment, Math.round((seconds - segmentBegan) * 1e9));
        }

        private void add(double seconds, EventKind kind, Map<String, Object> facts) {
            eventCount++;
            sink.accept(Event.of(time(seconds), utc(seconds), kind, facts));
        }

        private void sample(Moment moment) {
            double[] values = new double[table.size()];
            for (int i = 0; i < values.length; i++) {
                double value = curves.get(table.get(i).id()).at(moment);
                if (table.get(i).metric().kind() == ChannelKind.COUNTER) {
                    if (!Double.isNaN(value)) {
                        counted[i] += moment.seconds() == 0 ? 0 : value * period;
                        value = counted[i];
                    }
                }
                values[i] = value;
            }
            if (sampled.test(moment)) {
                samples++;
                sink.accept(new Sample(time(moment.seconds()), utc(moment.seconds()), values));
            }
        }
    }

    /** Facts of an event: name, value, name, value. */
    public static Map<String, Object> facts(Object... namesAndValues) {
        Map<String, Object> facts = new LinkedHashMap<>();
        for (int i = 0; i < namesAndValues.length; i += 2) {
            facts.put((String) namesAndValues[i], namesAndValues[i + 1]);
        }
        return facts;
    }

    /** Writes {@code run.jsonl} into a folder of its own below {@code folder}. */
    public Path write(Path folder) throws IOException {
        return stream(Files.createTempDirectory(folder, "run"));
    }

    /** Writes {@code run.jsonl} into {@code folder}, in little memory however long it is. */
    public Path stream(Path folder) throws IOException {
        try (Output output = new Output(folder)) {
            records(output);
        }
        return folder.resolve("run.jsonl");
    }

    /** Hands records to the real writer, and waits for it every now and then so that none is dropped. */
    private static final class Output implements Consumer<LogRecord>, Closeable {
        private static final int AT_ONCE = 5000;
        private static final Duration PATIENCE = Duration.ofSeconds(60);

        private final Path folder;
        private RunLogWriter writer;
        private long appended;

        Output(Path folder) {
            this.folder = folder;
        }

        @Override
        public void accept(LogRecord logRecord) {
            try {
                if (logRecord instanceof Header header) {
                    writer = RunLogWriter.create(LogStore.in(folder), "run", header, options());
                    return;
                }
                long ticket = writer.append(logRecord);
                appended++;
                if (ticket < 0 || (appended % AT_ONCE == 0 && !writer.awaitDurable(ticket, PATIENCE))) {
                    throw new IOException("the disk is too slow");
                }
            } catch (IOException e) {
                throw new UncheckedIOException(e);
            } catch (InterruptedException e) {
                throw new IllegalStateException("interrupted", e);
            }
        }

        private static WriterOptions options() {
            return new WriterOptions(
                    8 << 20,
                    8 << 20,
                    0,
                    Duration.ofSeconds(60),
                    Duration.ofSeconds(1),
                    System::nanoTime,
                    WriterListener.NONE);
        }

        @Override
        public void close() throws IOException {
            long left = writer.close(PATIENCE);
            if (left != 0) {
                throw new IOException(left + " records did not reach the disk");
            }
        }
    }

    /** For assertions' descriptions. */
    @Override
    public String toString() {
        return procedure() + Arrays.toString(channels.keySet().toArray());
    }
}
