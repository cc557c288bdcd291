// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class ClockHeldTest {
    @TempDir
    Path folder;

    private static LogBuilder soak(double seconds) {
        return LogBuilder.gpuSoak(seconds, "clock-held", "mandatory: yes, at-least: 95 %, window: 2 min");
    }

    /** 1,000 units a second at first, {@code late} from the middle on. */
    private static LogBuilder slowing(double late) {
        return soak(600).curve("gpu.work.verified", m -> !m.loaded() ? 0 : m.intoStage() <= 300 ? 1000 : late);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.CLOCK_HELD);
    }

    @Test
    void workThatGoesOnAtItsRatePasses() throws Exception {
        Finding f = judge(soak(600));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("100.0 %");
        assertThat(f.margin()).isEqualTo("+5.0 %");
    }

    @Test
    void theLimitItselfPassesAndOneBelowFails() throws Exception {
        assertThat(judge(slowing(950)).outcome()).isEqualTo(Outcome.PASS);
        Finding f = judge(slowing(949));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("94.9 %");
        assertThat(f.because()).contains("something holds it back as it warms");
    }

    @Test
    void ratesThatScatterTooMuchAreInconclusive() throws Exception {
        Finding f = judge(soak(600)
                .curve(
                        "gpu.work.verified",
                        m -> !m.loaded()
                                ? 0
                                : (m.intoStage() <= 300 ? 1000 : 945)
                                        + (Math.ceil(m.intoStage() / 10) * 7 % 5 - 2) * 40));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("Its scatter would have to fall to ");
        assertThat(f.because()).contains("scatters too much");
    }

    @Test
    void noLongerRunIsAdvisedWhereTheScatterIsThrottling() throws Exception {
        Finding f = judge(soak(600)
                .curve("gpu.throttle.heat", m -> m.loaded() && m.intoStage() > 400 && m.intoStage() % 30 < 8 ? 1 : 0)
                .curve(
                        "gpu.work.verified",
                        m -> !m.loaded()
                                ? 0
                                : (m.intoStage() <= 300 ? 1000 : 945)
                                        + (Math.ceil(m.intoStage() / 10) * 7 % 5 - 2) * 40));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because())
                .contains("the part was held back meanwhile (heat). A longer run settles nothing")
                .doesNotContain("would do", "must grow");
    }

    @Test
    void theFirstMinuteSettlesAndIsLeftOut() throws Exception {
        Finding f =
                judge(soak(600).curve("gpu.work.verified", m -> !m.loaded() ? 0 : m.intoStage() <= 60 ? 1500 : 1000));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("100.0 %");
    }

    /** A contact that comes and goes slows the start as much as the end: the level between is what it can do. */
    @Test
    void workThatIsHeldBackAgainAndAgainFailsAlthoughItsStartWasNoFaster() throws Exception {
        Finding f = judge(LogBuilder.gpuSoak(1800, "clock-held", "mandatory: yes, window: 10 min")
                .curve(
                        "gpu.work.verified",
                        m -> !m.loaded() ? 0 : m.intoStage() <= 700 || m.intoStage() % 40 <= 20 ? 1000 : 2000));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("of the best that it held after its start", "again and again");
    }

    @Test
    void aRateThatWasKeptFromAStartThatWasHeldBackIsInconclusive() throws Exception {
        Finding f = judge(soak(600)
                .curve("gpu.throttle.heat", m -> m.loaded() && m.intoStage() > 70 && m.intoStage() < 120 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("that start was itself held back (heat");
    }

    @Test
    void aStageTooShortForTwoWindowsUsesHalvesOfWhatIsLeft() throws Exception {
        LogBuilder log = LogBuilder.gpuSoak(400, "clock-held", "mandatory: yes, at-least: 95 %, window: 150 s");
        Finding f = judge(log.stops(230, CloseReason.OPERATOR_STOP, ""));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.because()).contains("over the last 1 min 30 s of stage soak");
    }

    @Test
    void aStageThatIsFarTooShortIsNotMeasured() throws Exception {
        LogBuilder log = LogBuilder.gpuSoak(200, "clock-held", "mandatory: yes, window: 90 s")
                .stops(60, CloseReason.OPERATOR_STOP, "");
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("too short");
    }

    @Test
    void withoutVerifiedWorkNothingIsMeasured() throws Exception {
        assertThat(judge(soak(600).without(c -> c.is(Role.GPU_DISCRETE, Metric.WORK_VERIFIED)))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
        assertThat(judge(soak(600).curve("gpu.work.verified", m -> 0)).outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void theJobSheetCanDeclareItNotApplicable() throws Exception {
        assertThat(judge(soak(600).jobSheet("not-applicable:\n  clock-held: fixed clock\n"))
                        .outcome())
                .isEqualTo(Outcome.NOT_APPLICABLE);
    }
}
