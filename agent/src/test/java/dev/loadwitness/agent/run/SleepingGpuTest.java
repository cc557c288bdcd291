// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.sensor.DropoutSource;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import java.time.Duration;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Set;
import java.util.TreeSet;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicLong;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

/** A run on a laptop whose discrete GPU sleeps until a load is due on it. */
@Timeout(60)
final class SleepingGpuTest {
    private static final String PROCEDURE = """
            format: loadwitness-procedure/1
            name: sleeping-gpu
            title: A test of the run itself
            sampling: 1 s
            stages:
              - id: idle
                duration: 3 s
              - id: integrated
                loads: [gpu-mix]
                gpu: gpu-integrated
                duration: 4 s
              - id: discrete
                loads: [gpu-mix]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 10 s
              - id: cool-down
                duration: 3 s
            safety:
              stop-above: {cpu: 105 Cel, gpu-discrete: 92 Cel, gpu-integrated: 105 Cel}
              silent-after: 5 s
              adapter-lost: go-on
              unguarded: refuse
            decision:
              rule: guarded
              guard-factor: 1
            criteria:
              evidence:
                mandatory: yes
            """;

    private final Bench.FakeClock clock = new Bench.FakeClock();
    private final List<LogRecord> records = new ArrayList<>();

    /** Answers for the discrete GPU only while allowed, and then after some time, as a library that must open first. */
    private final class Gpu implements Source {
        private final long opensAfterNanos;
        private volatile boolean allowed;
        private long allowedSinceNanos = -1;
        private volatile boolean told;

        Gpu(Duration opensAfter) {
            opensAfterNanos = opensAfter.toNanos();
        }

        @Override
        public String name() {
            return "gpu";
        }

        @Override
        public List<Channel> channels() {
            return List.of(
                    Channel.of("gpu-discrete.core.temperature", Metric.TEMPERATURE, Role.GPU_DISCRETE, "gpu"),
                    Channel.of("gpu-integrated.core.temperature", Metric.TEMPERATURE, Role.GPU_INTEGRATED, "gpu"));
        }

        @Override
        public void read(double[] into, int from) {
            long now = clock.nanos();
            allowedSinceNanos = !allowed ? -1 : allowedSinceNanos < 0 ? now : allowedSinceNanos;
            into[from] = allowed && now - allowedSinceNanos >= opensAfterNanos ? 70 : Double.NaN;
            into[from + 1] = 50;
        }

        @Override
        public List<SensorFact> takeFacts() {
            if (told || !allowed) {
                return List.of();
            }
            told = true;
            return List.of(new SensorFact.Noticed(
                    "gpu",
                    EventKind.DEVICE_LOST,
                    Map.of("role", "gpu-discrete", "device", "0000:01:00.0", "detail", "GPU is lost (15)")));
        }

        @Override
        public void allowWaking(boolean allowed) {
            this.allowed = allowed;
        }

        @Override
        public void close() {
            // Nothing is open.
        }
    }

    /** Ready at once, and catches what is planted. */
    private record Load(LoadKind kind, AtomicLong units) implements Work {
        @Override
        public String scheduling() {
            return "made up";
        }

        @Override
        public boolean ready() {
            return true;
        }

        @Override
        public long verified() {
            return units.incrementAndGet();
        }

        @Override
        public long errors() {
            return 0;
        }

        @Override
        public void plant() {
            // Caught below.
        }

        @Override
        public boolean plantCaught() {
            return true;
        }

        @Override
        public List<Fact> check(long nowNanos) {
            return List.of();
        }

        @Override
        public void stop() {
            // Nothing runs.
        }
    }

    private void run(Duration opensAfter) throws InterruptedException, ProcedureException {
        DropoutSource dropout = new DropoutSource(new Gpu(opensAfter));
        try (SensorBank bank = new SensorBank(List.of(dropout), Duration.ofMillis(400))) {
            Run run = new Run(
                    ProcedureReader.read("sleeping-gpu.yaml", PROCEDURE),
                    bank,
                    new Run.Dropout(dropout, false),
                    (kind, stage) -> new Load(kind, new AtomicLong()),
                    records::add,
                    clock,
                    () -> 0L,
                    Run.Beginning.NEW);
            run.begin("boot-1", true);
            long end = TimeUnit.MINUTES.toNanos(2);
            while (!run.hasEnded() && clock.nanos() < end) {
                if (events(EventKind.SOURCE_SILENT).size()
                        > events(EventKind.SOURCE_BACK).size()) {
                    Thread.sleep(20); // the source's own thread is real
                }
                long next = run.step(clock.nanos());
                clock.advance(Math.max(1, Math.min(next, end) - clock.nanos()));
            }
        }
    }

    private List<Event> events(EventKind kind) {
        return records.stream()
                .filter(Event.class::isInstance)
                .map(Event.class::cast)
                .filter(e -> e.kind().equals(kind.word()))
                .toList();
    }

    /** The stages in which the discrete GPU answered. */
    private Map<String, Set<String>> answersByStage() {
        Map<String, Set<String>> answers = new LinkedHashMap<>();
        String stage = "before";
        for (LogRecord logRecord : records) {
            if (logRecord instanceof Event event && event.kind().equals(EventKind.STAGE_BEGIN.word())) {
                stage = event.text("stage");
            } else if (logRecord instanceof Event event && event.kind().equals(EventKind.STAGE_END.word())) {
                stage = "between";
            } else if (logRecord instanceof Sample sample) {
                answers.computeIfAbsent(stage, s -> new TreeSet<>())
                        .add(Double.isNaN(sample.values()[0]) ? "null" : "answer");
            }
        }
        return answers;
    }

    private String end() {
        return ((Close) records.get(records.size() - 1)).reason();
    }

    @Test
    void onlyTheStageOnTheDiscreteGpuMayWakeIt() throws Exception {
        run(Duration.ZERO);
        assertThat(end()).isEqualTo("completed");
        assertThat(answersByStage())
                .containsEntry("idle", Set.of("null"))
                .containsEntry("integrated", Set.of("null"))
                .containsEntry("discrete", Set.of("answer"))
                .containsEntry("cool-down", Set.of("null"));
    }

    @Test
    void sensorsThatOpenSlowlyAreWaitedForBeforeTheLoadIsCalledUnguarded() throws Exception {
        run(Duration.ofSeconds(4));
        assertThat(end()).isEqualTo("completed");
        assertThat(events(EventKind.UNGUARDED)).isEmpty();
    }

    @Test
    void sensorsThatNeverOpenLeaveTheLoadUnguarded() throws Exception {
        run(Duration.ofHours(1));
        assertThat(end()).isEqualTo("safety-stop");
        assertThat(events(EventKind.UNGUARDED))
                .singleElement()
                .satisfies(e -> assertThat(e.text("role")).isEqualTo("gpu-discrete"));
    }

    @Test
    void whatASourceNoticesIsAnEventOfItsKind() throws Exception {
        run(Duration.ZERO);
        assertThat(events(EventKind.DEVICE_LOST)).singleElement().satisfies(e -> {
            assertThat(e.text("device")).isEqualTo("0000:01:00.0");
            assertThat(e.text("detail")).isEqualTo("GPU is lost (15)");
        });
    }
}
