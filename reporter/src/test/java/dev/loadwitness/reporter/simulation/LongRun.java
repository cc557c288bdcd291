// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Boot;
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
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Set;
import java.util.SplittableRandom;
import java.util.function.Consumer;

/**
 * A long and dull run, made cheaply, for trying how much memory and time judging takes: 24 channels, readings
 * that wander, counters that grow, temperatures that follow the power by one time constant. A soak under steady load for
 * nine tenths, one stage of every other kind around it, every criterion asked; it passes.
 */
public final class LongRun {
    private static final int CHANNELS = 24;
    private static final Instant START = Instant.parse("2026-11-20T08:00:00Z");
    private static final Set<Criterion> MANDATORY = Set.of(
            Criterion.SOAK_DURATION,
            Criterion.LIMIT_WITHDRAWN,
            Criterion.INTERRUPTIONS,
            Criterion.TEMPERATURE_CEILING,
            Criterion.TEMPERATURE_SETTLED,
            Criterion.THROTTLE,
            Criterion.CLOCK_HELD,
            Criterion.COMPUTE_ERRORS,
            Criterion.EVIDENCE);

    private final Duration length;
    private final Duration period;

    /** A run of that length: 72 hours at 10 Hz give 2.6 million samples. */
    public LongRun(Duration length, Duration period) {
        this.length = length;
        this.period = period;
    }

    /** Writes the run as {@code <stem>.jsonl} into {@code folder}. */
    public EarlierAttempt write(Path folder, String stem) throws IOException {
        return SimulatedLog.write(this::play, folder, stem);
    }

    /** Gives all records, header first. */
    public void play(Consumer<LogRecord> log) {
        Attachment procedure = procedure();
        log.accept(new Header(
                "00000000000000000000000000024010",
                START,
                Simulation.TICKET,
                "",
                List.of(),
                true,
                Map.of(),
                List.of(),
                "simulation",
                procedure,
                Optional.empty(),
                OptionalDouble.of(22),
                "invented",
                Duration.ofSeconds(1)));
        log.accept(new Boot(new RunTime(0, 0), START, "long-run", 60, true, Optional.empty()));
        List<Channel> channels = channels();
        log.accept(new ChannelTable(new RunTime(0, 0), channels));
        Lines lines = new Lines(channels, period.toMillis() / 1e3);
        RunTime now = new RunTime(0, 0);
        long events = 0;
        long samples = 0;
        for (Stage stage : Stage.values()) {
            long due = stage.length(length).dividedBy(period);
            if (stage == Stage.SOAK) {
                for (String planted : List.of("planted-miscomputation", "planted-dropout")) {
                    log.accept(event(now, EventKind.WITNESS_CHECK, Map.of("check", planted, "caught", true)));
                    events++;
                }
            }
            log.accept(event(now, EventKind.STAGE_BEGIN, stage.facts("seconds", due * period.toMillis() / 1e3)));
            for (long last = samples + due; samples < last; ) {
                now = new RunTime(0, ++samples * period.toNanos());
                log.accept(new Sample(now, START.plusNanos(now.nanos()), lines.next(stage)));
            }
            now = new RunTime(0, samples * period.toNanos() + 1000);
            log.accept(event(now, EventKind.STAGE_END, stage.facts("why", "completed")));
            events += 2;
        }
        log.accept(new Close(now, START.plusNanos(now.nanos()), CloseReason.COMPLETED.word(), "", samples, events));
    }

    private static Event event(RunTime at, EventKind kind, Map<String, Object> facts) {
        return Event.of(at, START.plusNanos(at.nanos()), kind, facts);
    }

    /** One stage of each kind; the soak takes what the shares of the others leave. */
    private enum Stage {
        IDLE("idle", false),
        INTEGRATED("integrated", false),
        RAMP("ramp", true),
        SOAK("soak", true),
        STEPS("steps", true),
        COMBINED("combined", true),
        COOL("cool", false);

        private static final int SHARE = 60;

        private final String id;
        private final boolean discrete;

        Stage(String id, boolean discrete) {
            this.id = id;
            this.discrete = discrete;
        }

        Duration length(Duration run) {
            long share = run.toSeconds() / SHARE;
            return Duration.ofSeconds(this == SOAK ? run.toSeconds() - (values().length - 1) * share : share);
        }

        Map<String, Object> facts(String name, Object value) {
            Map<String, Object> facts = new LinkedHashMap<>();
            facts.put("stage", id);
            facts.put(name, value);
            return facts;
        }
    }

    private Attachment procedure() {
        return Attachment.of("long-run.yaml", """
                format: loadwitness-procedure/1
                name: long-run
                title: A long soak, for measuring the reporter
                sampling: %4$d ms
                stages:
                  - id: idle
                    duration: %1$d s
                  - id: integrated
                    loads: [gpu-mix]
                    gpu: gpu-integrated
                    duration: %1$d s
                  - id: ramp
                    loads: [gpu-ramp]
                    gpu: gpu-discrete
                    duration: %1$d s
                  - id: soak
                    loads: [gpu-mix]
                    gpu: gpu-discrete
                    proves: gpu-discrete
                    duration: %2$d s
                  - id: steps
                    loads: [gpu-steps]
                    gpu: gpu-discrete
                    duration: %1$d s
                  - id: combined
                    loads: [cpu, gpu-mix]
                    gpu: gpu-discrete
                    duration: %1$d s
                  - id: cool
                    duration: %1$d s
                safety:
                  stop-above:
                    cpu: 105 Cel
                    gpu-discrete: 92 Cel
                    gpu-integrated: 105 Cel
                  silent-after: 10 s
                  adapter-lost: stop
                  unguarded: refuse
                decision:
                  rule: guarded
                  guard-factor: 1
                criteria:
                %3$s""".formatted(
                        Stage.IDLE.length(length).toSeconds(),
                        Stage.SOAK.length(length).toSeconds(),
                        criteria(),
                        period.toMillis()));
    }

    /** All there are; what needs a sheet, a guided stage or a load that only plays here is asked without being required. */
    private String criteria() {
        StringBuilder text = new StringBuilder();
        for (Criterion criterion : Criterion.values()) {
            String mandatory = MANDATORY.contains(criterion) ? "yes" : "no";
            text.append("  ")
                    .append(criterion.word())
                    .append(":\n    mandatory: ")
                    .append(mandatory)
                    .append('\n');
            if (criterion == Criterion.SOAK_DURATION) {
                long seconds = Stage.SOAK.length(length).toSeconds() - 60;
                text.append("    at-least: ").append(Math.max(1, seconds)).append(" s\n");
            }
        }
        return text.toString();
    }

    private static List<Channel> channels() {
        List<Channel> all = new ArrayList<>();
        String gpu = "gpu/long-run";
        all.add(Channel.of("gpu-discrete.temperature", Metric.TEMPERATURE, Role.GPU_DISCRETE, gpu)
                .withQuality(1, Double.NaN)
                .withLimits(Map.of(LimitType.THROTTLED, 89.0, LimitType.HIGH_CRITICAL, 95.0)));
        all.add(Channel.of("gpu-discrete.power", Metric.POWER, Role.GPU_DISCRETE, gpu));
        all.add(Channel.of("gpu-discrete.power.limit", Metric.POWER_LIMIT, Role.GPU_DISCRETE, gpu));
        all.add(Channel.of("gpu-discrete.energy", Metric.ENERGY, Role.GPU_DISCRETE, gpu));
        all.add(Channel.of("gpu-discrete.clock", Metric.GPU_CLOCK, Role.GPU_DISCRETE, gpu));
        all.add(Channel.of("gpu-discrete.utilization", Metric.GPU_UTILIZATION, Role.GPU_DISCRETE, gpu));
        all.add(Channel.of("gpu-discrete.throttle.heat.time", Metric.THROTTLE_TIME, Role.GPU_DISCRETE, gpu)
                .withCause(Cause.HEAT));
        all.add(Channel.of("gpu-discrete.throttle.heat.active", Metric.THROTTLE_ACTIVE, Role.GPU_DISCRETE, gpu)
                .withCause(Cause.HEAT));
        all.add(Channel.of("cpu.package.temperature", Metric.TEMPERATURE, Role.CPU, "hwmon/coretemp"));
        all.add(Channel.of("cpu.package.energy", Metric.ENERGY, Role.CPU, "powercap"));
        all.add(Channel.of("cpu.clock.mean", Metric.CPU_CLOCK, Role.CPU, "cpufreq"));
        all.add(Channel.of("cpu.utilization", Metric.CPU_UTILIZATION, Role.CPU, "proc/stat"));
        all.add(Channel.of("fan.cpu.speed", Metric.FAN_SPEED, Role.FAN, "hwmon/fans"));
        all.add(Channel.of("fan.gpu.speed", Metric.FAN_SPEED, Role.FAN, "hwmon/fans"));
        all.add(Channel.of("adapter.online", Metric.ADAPTER_ONLINE, Role.ADAPTER, "power_supply/adapter"));
        all.add(Channel.of("battery.bat0.charge", Metric.BATTERY_CHARGE, Role.BATTERY, "power_supply/bat0"));
        all.add(Channel.of("battery.bat0.power", Metric.BATTERY_POWER, Role.BATTERY, "power_supply/bat0"));
        all.add(Channel.of("battery.bat0.temperature", Metric.TEMPERATURE, Role.BATTERY, "power_supply/bat0"));
        all.add(Channel.of("board.vcore.voltage", Metric.VOLTAGE, Role.BOARD, "hwmon/board"));
        all.add(Channel.of("storage.temperature", Metric.TEMPERATURE, Role.STORAGE, "hwmon/nvme"));
        all.add(Channel.of("memory.temperature", Metric.TEMPERATURE, Role.MEMORY, "hwmon/spd5118"));
        all.add(Channel.of("gpu-discrete.work.verified", Metric.WORK_VERIFIED, Role.GPU_DISCRETE, "load"));
        all.add(Channel.of("gpu-discrete.work.errors", Metric.WORK_ERRORS, Role.GPU_DISCRETE, "load"));
        all.add(Channel.of("witness.lateness", Metric.SAMPLE_LATENESS, Role.WITNESS, "agent"));
        if (all.size() != CHANNELS) {
            throw new IllegalStateException("not " + CHANNELS + " channels");
        }
        return all;
    }

    /** Values from one look-up and one multiplication each: making the log must not be what takes the time. */
    private static final class Lines {
        /** By channel: middle, how far it wanders, steps per unit; counters: growth a second, its wander, steps. */
        private static final double[][] SHAPE = {
            {74, 1.4, 1}, {148, 2, 10}, {150, 0, 1}, {148, 2, 1000}, {1.8975e9, 2.2e7, 1e-6}, {1, 0, 1},
            {0, 0, 1}, {0, 0, 1}, {63, 3, 1}, {16, 3, 1000}, {3.1e9, 2e8, 1e-6}, {0.11, 0.04, 1000},
            {4170, 30, 0.1}, {4380, 30, 0.1}, {1, 0, 1}, {0.95, 0, 1000}, {0, 0, 100}, {31.5, 0.3, 10},
            {0.85, 0.02, 1000}, {52, 2, 1}, {58, 1.5, 1}, {2360, 30, 1}, {0, 0, 1}, {0.0008, 0.0007, 1e6},
        };

        /** What an unloaded discrete GPU shows instead: its power, energy, clock and utilization. */
        private static final Map<Integer, Double> AT_REST = Map.of(1, 12.0, 3, 12.0, 4, 3.0e8, 5, 0.0, 21, 0.0);

        private static final int GPU_TEMPERATURE = 0;
        private static final double REST_CELSIUS = 40;
        private static final double TIME_CONSTANT_SECONDS = 150;

        private final double[] noise = new double[4096];
        private final boolean[] counter;
        private final double[] total = new double[CHANNELS];
        private final double periodSeconds;
        private double celsius = REST_CELSIUS;
        private int step;

        Lines(List<Channel> channels, double periodSeconds) {
            this.periodSeconds = periodSeconds;
            counter = new boolean[CHANNELS];
            for (int i = 0; i < CHANNELS; i++) {
                counter[i] = channels.get(i).metric().kind() == ChannelKind.COUNTER;
            }
            SplittableRandom random = new SplittableRandom(24);
            for (int i = 0; i < noise.length; i++) {
                noise[i] = 2 * random.nextDouble() - 1;
            }
        }

        double[] next(Stage stage) {
            double middle = stage.discrete ? SHAPE[GPU_TEMPERATURE][0] : REST_CELSIUS;
            celsius += (middle - celsius) * periodSeconds / TIME_CONSTANT_SECONDS;
            double[] values = new double[CHANNELS];
            for (int i = 0; i < CHANNELS; i++) {
                // A stride of its own for each channel, so that they do not move together.
                double about = i == GPU_TEMPERATURE ? celsius : SHAPE[i][0];
                double now = about + SHAPE[i][1] * noise[(step * (2 * i + 1) + 97 * i) & (noise.length - 1)];
                if (!stage.discrete) {
                    now = AT_REST.getOrDefault(i, now);
                }
                if (counter[i]) {
                    total[i] += now * periodSeconds;
                    now = total[i];
                }
                values[i] = Math.rint(now * SHAPE[i][2]) / SHAPE[i][2];
            }
            step++;
            return values;
        }
    }
}
