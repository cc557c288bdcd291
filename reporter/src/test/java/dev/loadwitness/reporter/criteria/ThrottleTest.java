// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

class ThrottleTest {
    @TempDir
    Path folder;

    private static LogBuilder soak(String settings) {
        return LogBuilder.gpuSoak(120, "throttle", settings);
    }

    private static LogBuilder soak() {
        return soak("mandatory: yes");
    }

    /** A flag that is up for three samples. */
    private static LogBuilder flag(LogBuilder log, String cause, double fromSecondOfStage) {
        return log.curve(
                "gpu.throttle." + cause,
                m -> m.loaded() && m.intoStage() >= fromSecondOfStage && m.intoStage() < fromSecondOfStage + 3 ? 1 : 0);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.THROTTLE);
    }

    @Test
    void noEpisodePasses() throws Exception {
        Finding f = judge(soak());
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("0 episodes, 0 s");
    }

    @ParameterizedTest
    @ValueSource(strings = {"heat", "power-brake", "hardware-slowdown"})
    void oneEpisodeOfADefectClassFailsWithItsTimeAndPlace(String cause) throws Exception {
        Finding f = judge(flag(soak(), cause, 60));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 episodes, 3 s");
        assertThat(f.because()).contains("held itself back 1 time, 3 s in all, first at 1:30");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("(" + cause + ")"));
    }

    @Test
    void theOrdinaryPowerCapIsReportedAndNeverCounts() throws Exception {
        Finding f = judge(soak().curve("gpu.throttle.power-cap", m -> m.loaded() ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.because()).contains("ordinary power limit for 1 min 59 s, which is expected");
    }

    @Test
    void aFlagThatNeverFallsIsStillAnEpisode() throws Exception {
        Finding f = judge(soak().curve("gpu.throttle.heat", m -> m.loaded() && m.intoStage() >= 60 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 episodes, 1 min");
    }

    @Test
    void aBareHardwareSlowdownWithinFiveSecondsOfTheStagesBeginIsIgnored() throws Exception {
        assertThat(judge(flag(soak(), "hardware-slowdown", 1)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(flag(soak(), "hardware-slowdown", 5)).outcome()).isEqualTo(Outcome.FAIL);
        // One that outlasts the edge is counted from there.
        assertThat(judge(flag(soak(), "hardware-slowdown", 3)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void heatAtTheStagesBeginCounts() throws Exception {
        assertThat(judge(flag(soak(), "heat", 1)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void numberAndTimeAreLetPassUpToTheirLimitsAndNoFurther() throws Exception {
        assertThat(judge(flag(soak("mandatory: yes, at-most: 1, at-most-time: 3 s"), "heat", 60))
                        .outcome())
                .isEqualTo(Outcome.PASS);
        assertThat(judge(flag(soak("mandatory: yes, at-most: 0, at-most-time: 3 s"), "heat", 60))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
        assertThat(judge(flag(soak("mandatory: yes, at-most: 1, at-most-time: 2 s"), "heat", 60))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void aCounterInTheHardwareIsReadBetweenSamplesAndAnEpisodeIsNotCountedTwice() throws Exception {
        LogBuilder log = flag(soak(), "heat", 60)
                .channel(
                        Channel.of("gpu.throttle.heat.count", Metric.THROTTLE_COUNT, Role.GPU_DISCRETE, "gpu")
                                .withCause(Cause.HEAT),
                        m -> m.intoStage() == 60 || m.intoStage() == 90 ? 1 : 0);
        assertThat(judge(log).measured()).isEqualTo("2 episodes, 3 s");
    }

    @Test
    void timeCountedWithoutAnEpisodeIsOneEpisode() throws Exception {
        LogBuilder log = soak().channel(
                        Channel.of("gpu.throttle.brake.time", Metric.THROTTLE_TIME, Role.GPU_DISCRETE, "gpu")
                                .withCause(Cause.POWER_BRAKE),
                        m -> m.intoStage() == 60 ? 0.25 : 0);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 episodes, 0.2 s");
    }

    @Test
    void whatHappensWhileNothingIsProvedIsNotThisCriterions() throws Exception {
        assertThat(judge(soak().curve("gpu.throttle.heat", m -> m.seconds() < 20 ? 1 : 0))
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void withoutFlagsOrWithoutAnswersNothingIsMeasured() throws Exception {
        assertThat(judge(soak().without(c -> c.id().startsWith("gpu.throttle.")))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
        assertThat(judge(soak().without(c -> c.id().startsWith("gpu.throttle.") && !c.id().endsWith("power-cap")))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
        LogBuilder silent = soak();
        for (Cause cause : Cause.values()) {
            silent.curve("gpu.throttle." + cause.word(), m -> Double.NaN);
        }
        assertThat(judge(silent).outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void theJobSheetCanDeclareItNotApplicable() throws Exception {
        assertThat(judge(soak().jobSheet("not-applicable:\n  throttle: no driver\n"))
                        .outcome())
                .isEqualTo(Outcome.NOT_APPLICABLE);
    }
}
