// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Random;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class PowerSteadyTest {
    @TempDir
    Path folder;

    private static LogBuilder soak(LogBuilder.Curve underLoad) {
        return LogBuilder.gpuSoak(630, "power-steady", "mandatory: no")
                .curve("gpu.power", m -> m.loaded() ? underLoad.at(m) : 15);
    }

    /** A curve that scatters by {@code watts} around 140 W. */
    private static LogBuilder.Curve scatter(double watts) {
        Random random = new Random(7);
        return m -> 140 + watts * random.nextGaussian();
    }

    private static LogBuilder.Curve dip(LogBuilder.Curve around, double watts) {
        return m -> around.at(m) - (m.intoStage() > 300 && m.intoStage() <= 310 ? watts : 0);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.POWER_STEADY);
    }

    @Test
    void ordinaryScatterDoesNotStandOut() throws Exception {
        Finding f = judge(soak(scatter(8)));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("0 of 60");
    }

    @Test
    void aDipOfTenSecondsStandsOutWithItsPlace() throws Exception {
        Finding f = judge(soak(dip(scatter(2), 30)));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because())
                .contains("dipped once for about ten seconds under a steady load, first at 5:31, by up to 21.3 %");
        assertThat(f.evidence().get(0).at()).isEqualTo("5:31");
    }

    /** However quiet the rest is, less than the least deviation is nobody's business: 5 % of 140 W is 7 W. */
    @Test
    void lessThanTheLeastDeviationNeverStandsOut() throws Exception {
        assertThat(judge(soak(dip(m -> 140, 6.9))).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(soak(dip(m -> 140, 7.1))).outcome()).isEqualTo(Outcome.FAIL);
    }

    /** And where everything scatters widely, more than the least deviation need not be unusual. */
    @Test
    void whatIsUsualInTheStageDoesNotStandOut() throws Exception {
        assertThat(judge(soak(dip(scatter(40), 10))).outcome()).isEqualTo(Outcome.PASS);
    }

    /** Half of the stage at another level: no single mean stands out of two equal halves, and the sums see the change. */
    @Test
    void aChangeOfLevelIsFoundWithItsPlace() throws Exception {
        LogBuilder.Curve around = scatter(2);
        Finding f = judge(soak(m -> around.at(m) - (m.intoStage() > 310 ? 20 : 0)));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("Its level changed in one stage.");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).startsWith("from here on at about"));
    }

    @Test
    void aDipAtAPowerBrakeSaysThatThrottleDecides() throws Exception {
        LogBuilder log = soak(dip(m -> 140, 30))
                .curve("gpu.throttle.power-brake", m -> m.intoStage() > 303 && m.intoStage() < 306 ? 1 : 0);
        assertThat(judge(log).because()).contains("throttle decides");
        assertThat(judge(soak(dip(m -> 140, 30))).because()).doesNotContain("throttle");
    }

    @Test
    void aStageTooShortToTellWhatIsUsualIsNotMeasured() throws Exception {
        assertThat(judge(LogBuilder.gpuSoak(90, "power-steady", "mandatory: no"))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }
}
