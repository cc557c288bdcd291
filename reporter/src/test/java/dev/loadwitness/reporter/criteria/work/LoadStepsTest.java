// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.function.LongUnaryOperator;
import java.util.stream.Collectors;
import java.util.stream.LongStream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

public class LoadStepsTest {
    private static final double SECONDS = 30;
    private static final double BEGIN = 30;

    @TempDir
    Path folder;

    /** Levels of a ramp that begins at {@code begin}: 25, 50, 75, 100 % and down, each for {@code each} seconds. */
    public static LogBuilder ramp(LogBuilder log, double begin, double each) {
        double[] levels = {0.25, 0.5, 0.75, 1, 0.75, 0.25};
        for (int i = 0; i < levels.length; i++) {
            log.event(
                    begin + 0.1 + i * each,
                    EventKind.LOAD_LEVEL,
                    LogBuilder.facts("load", "gpu-ramp", "level", levels[i], "seconds", 0.1));
        }
        return log;
    }

    /** One record of edges at half duty, as commanded, written at {@code begin} plus its length. */
    public static LogBuilder steps(LogBuilder log, double begin, double period, int pairs) {
        return steps(log, begin, 0, period, pairs, micros -> micros);
    }

    private static LogBuilder steps(
            LogBuilder log, double begin, double since, double period, int pairs, LongUnaryOperator seen) {
        String edges = LongStream.range(0, 2L * pairs)
                .map(i -> Math.round(i * period / 2 * 1e6))
                .map(seen)
                .mapToObj(Long::toString)
                .collect(Collectors.joining(","));
        return log.event(
                begin + since + pairs * period - 0.01,
                EventKind.LOAD_EDGES,
                LogBuilder.facts("load", "gpu-steps", "period", period, "duty", 0.5, "since", since, "edges", edges));
    }

    private static LogBuilder stage() {
        return LogBuilder.laptop()
                .idle("idle", BEGIN)
                .stage("steps", SECONDS, "loads: [gpu-steps], gpu: gpu-discrete", Role.GPU_DISCRETE)
                .criterion("load-steps", "mandatory: yes");
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.LOAD_STEPS);
    }

    @Test
    void everyEdgeInItsMomentPassesAndEachRateIsTold() throws Exception {
        LogBuilder log = steps(stage(), BEGIN, 0, 1, 15, m -> m);
        Finding f = judge(steps(log, BEGIN, 15, 0.02, 749, m -> m));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("1,528 edges, worst off by 0.0 ms");
        assertThat(f.evidence())
                .extracting(Evidence::text)
                .anySatisfy(t -> assertThat(t).contains("every 20.0 ms, on for 50.0 %: 1,498 edges, 0 missing"));
    }

    @Test
    void theWorstEdgeIsToldAndAFewLateOnesAreLetPass() throws Exception {
        // One of 60 edges 120 ms late: beyond 10 % of a second, but no more than the 2 % allowed here.
        LogBuilder log = stage().criterion("load-steps", "mandatory: yes, late-edges: 2 %");
        Finding f = judge(steps(log, BEGIN, 0, 1, 30, m -> m == 10_500_000 ? m + 120_000 : m));
        assertThat(f.measured()).contains("worst off by 120.0 ms");
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aLoadThatLagsIsInconclusiveAndNeverAFailureOfTheMachine() throws Exception {
        Finding f = judge(steps(stage(), BEGIN, 0, 1, 30, m -> m >= 10_500_000 ? m + 120_000 : m));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("0 are missing and 39 missed their moment", "nothing was shown");
        Finding withinTolerance = judge(steps(stage(), BEGIN, 0, 1, 30, m -> m >= 10_500_000 ? m + 90_000 : m));
        assertThat(withinTolerance.outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void theToleranceOfFastStepsIsATimeNotAShare() throws Exception {
        // 4 ms off at a period of 20 ms is more than a tenth of it, but less than 5 ms.
        assertThat(judge(steps(stage(), BEGIN, 0, 0.02, 1499, m -> m > 0 ? m + 4_000 : m))
                        .outcome())
                .isEqualTo(Outcome.PASS);
        assertThat(judge(steps(stage(), BEGIN, 0, 0.02, 1499, m -> m > 0 ? m + 6_000 : m))
                        .outcome())
                .isEqualTo(Outcome.INCONCLUSIVE);
    }

    @Test
    void edgesThatAreMissingBetweenRecordsAreCounted() throws Exception {
        LogBuilder log = steps(stage(), BEGIN, 0, 1, 10, m -> m);
        Finding f = judge(steps(log, BEGIN, 15, 1, 15, m -> m));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("of 60 edges commanded 10 are missing");
    }

    @Test
    void edgesThatStopHalfWayShowHalfOfTheStage() throws Exception {
        Finding f = judge(steps(stage(), BEGIN, 0, 1, 15, m -> m));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("edges are there for only 14.5 s of 30 s");
    }

    @Test
    void aPowerBrakeFailsEvenWhereTheLoadFollowed() throws Exception {
        Finding f = judge(steps(stage(), BEGIN, 1, 30)
                .curve("gpu.throttle.power-brake", m -> m.seconds() >= 40 && m.seconds() < 42 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("held itself back (power brake) for 2 s in stage steps");
    }

    @Test
    void aBareSlowdownAmongStepsCanBeAChangeOfPerformanceState() throws Exception {
        Finding f = judge(steps(stage(), BEGIN, 1, 30)
                .curve("gpu.throttle.hardware-slowdown", m -> m.seconds() >= 40 && m.seconds() < 42 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aWrongResultInTheStageFails() throws Exception {
        Finding f = judge(steps(stage(), BEGIN, 1, 30).curve("gpu.work.errors", m -> m.seconds() == 40 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("computed 1 wrong results");
    }

    @Test
    void withoutEdgesNothingIsMeasured() throws Exception {
        assertThat(judge(stage()).outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(Judged.finding(folder, LogBuilder.gpuSoak(60, "load-steps", "mandatory: no"), Criterion.LOAD_STEPS)
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void edgesThatCannotBeReadAreInconclusive() throws Exception {
        for (String edges : new String[] {"", "0,x", "0,500000,400000"}) {
            LogBuilder log = steps(stage(), BEGIN, 1, 30)
                    .event(
                            59.995,
                            EventKind.LOAD_EDGES,
                            LogBuilder.facts(
                                    "load", "gpu-steps", "period", 1.0, "duty", 0.5, "since", 30.0, "edges", edges));
            assertThat(judge(log).because()).contains("1 records of edges cannot be read");
        }
    }

    /** A double would be read from each of these; the last is one more than a long holds. */
    @ParameterizedTest
    @ValueSource(strings = {"Infinity", "-Infinity", "NaN", "1e3", "0.5", "9223372036854775808"})
    void aStepWhoseMomentIsNoWholeNumberCannotBeRead(String moment) throws Exception {
        LogBuilder log = steps(stage(), BEGIN, 1, 30)
                .event(
                        59.995,
                        EventKind.LOAD_EDGES,
                        LogBuilder.facts(
                                "load",
                                "gpu-steps",
                                "period",
                                1.0,
                                "duty",
                                0.5,
                                "since",
                                30.0,
                                "edges",
                                "0," + moment));
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("1 records of edges cannot be read");
    }

    @Test
    void edgesAreNotKeptAsEvents() throws Exception {
        LogBuilder log = stage();
        for (int i = 0; i < 30; i++) {
            steps(log, BEGIN, i, 0.01, 99, m -> m);
        }
        assertThat(Judged.of(folder, log).scan().events(EventKind.LOAD_EDGES)).isEmpty();
    }
}
