// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class PowerHeldTest {
    @TempDir
    Path folder;

    private static LogBuilder soak() {
        return LogBuilder.gpuSoak(180, "power-held", "mandatory: yes");
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.POWER_HELD);
    }

    /** 85 % of 150 W is 127.5 W; 2 % of a reading and whole watts: U = 5.5 W at 134 W, 5.0 W at 122 W. */
    @Test
    void theMedianIsHeldAgainstTheRatedPowerAndTheLimitOfTheMomentIsOnlyReported() throws Exception {
        LogBuilder log = soak().jobSheet("rated-graphics-power: 150 W\n");
        Finding f = judge(log.curve("gpu.power", m -> m.loaded() ? 134 : 15).curve("gpu.power.limit", m -> 134));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("134 W");
        assertThat(f.uncertainty()).isEqualTo("5 W");
        assertThat(f.because()).contains("89.3 % of 150 W", "job sheet", "100.0 % of its limit of the moment");
        // A limit that is met is no excuse for a low power.
        Finding low = judge(log.curve("gpu.power", m -> m.loaded() ? 122 : 15).curve("gpu.power.limit", m -> 122));
        assertThat(low.outcome()).isEqualTo(Outcome.FAIL);
    }

    /** 130 W: room 2.5 W, so √(1.25² − 1/3) = 1.109 W of calibration, 2.2 W expanded. */
    @Test
    void closeToTheShareOfARatingItSaysHowWellThePowerWouldHaveToBeKnown() throws Exception {
        Finding f =
                judge(soak().jobSheet("rated-graphics-power: 150 W\n").curve("gpu.power", m -> m.loaded() ? 130 : 15));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because())
                .contains("too close to the 128 W asked for", "A longer run would not settle it", "2.2 W (k = 2)");
        assertThat(f.conformity().orElseThrow()).isBetween(0.8, 0.85);
    }

    /** The sensor errs in its limit as in its power: only the steps of the reading are left. */
    @Test
    void againstTheDevicesOwnLimitTheCalibrationIsLeftOut() throws Exception {
        Finding f = judge(soak().curve("gpu.power", m -> m.loaded() ? 130 : 15));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.uncertainty()).isEqualTo("1.2 W");
        assertThat(f.tables())
                .singleElement()
                .satisfies(t -> assertThat(t.rows())
                        .extracting(r -> r.get(1))
                        .doesNotContain("calibration")
                        .contains("resolution"));
    }

    @Test
    void aDipOfLessThanHalfTheTimeDoesNotMoveTheMedian() throws Exception {
        assertThat(judge(soak().curve("gpu.power", m -> !m.loaded() ? 15 : m.intoStage() > 120 ? 60 : 140))
                        .outcome())
                .isEqualTo(Outcome.PASS);
        assertThat(judge(soak().curve("gpu.power", m -> !m.loaded() ? 15 : m.intoStage() > 90 ? 60 : 140))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void theMinuteInWhichTheLoadComesUpIsNotCounted() throws Exception {
        assertThat(judge(LogBuilder.gpuSoak(60, "power-held", "mandatory: yes")
                                .curve("gpu.power", m -> !m.loaded() || m.intoStage() < 30 ? 15 : 140))
                        .measured())
                .isEqualTo("140 W");
    }

    @Test
    void stagesOfOneRailAreReportedAndDoNotDecide() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .idle("idle", 30)
                .stage("core", 300, "loads: [gpu-core], gpu: gpu-discrete, proves: gpu-discrete", Role.GPU_DISCRETE)
                .soak("mix", 120)
                .criterion("power-held", "mandatory: yes")
                .curve("gpu.power", m -> m.stage().equals("core") ? 90 : m.loaded() ? 140 : 15);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.evidence())
                .extracting(Evidence::text)
                .contains("core: 90 W, 60.0 % of 150 W", "mix: 140 W, 93.3 % of 150 W");
    }

    /** What is doubtful of a reading is a share of its size: 2 % of 140 W, whichever way they flow. */
    @Test
    void aPowerBelowZeroFailsAndIsAsDoubtfulAsOneAboveIt() throws Exception {
        LogBuilder log = soak().jobSheet("rated-graphics-power: 150 W\n").without(c -> c.id().equals("gpu.energy"));
        Finding f = judge(log.curve("gpu.power", m -> m.loaded() ? -140 : -15));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("-140 W");
        assertThat(f.uncertainty()).isEqualTo("6 W");
    }

    @Test
    void withoutARatingOrALimitWhatWasHeldIsSaidAndNotJudged() throws Exception {
        Finding f = judge(soak().without(c -> c.id().equals("gpu.power.limit")));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("drew 140 W", "its rating is unknown");
    }
}
