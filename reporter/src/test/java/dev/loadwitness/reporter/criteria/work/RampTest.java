// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class RampTest {
    @TempDir
    Path folder;

    private static LogBuilder stage() {
        return LogBuilder.laptop()
                .idle("idle", 30)
                .stage("ramp", 90, "loads: [gpu-ramp], gpu: gpu-discrete", Role.GPU_DISCRETE)
                .criterion("ramp", "mandatory: yes");
    }

    private static LogBuilder level(LogBuilder log, double at, double level, double late) {
        return log.event(
                at, EventKind.LOAD_LEVEL, LogBuilder.facts("load", "gpu-ramp", "level", level, "seconds", late));
    }

    private static LogBuilder followed() {
        return LoadStepsTest.ramp(stage(), 30, 15);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.RAMP);
    }

    @Test
    void aRampThatWasFollowedUpAndDownPasses() throws Exception {
        Finding f = judge(followed());
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("6 levels, latest by 0.10 s");
    }

    @Test
    void aLevelThatWasNeverReachedOrALoadThatNeverCameDownIsInconclusive() throws Exception {
        LogBuilder withoutHalf = level(level(level(level(stage(), 31, 0.25, 0), 45, 0.75, 0), 60, 1, 0), 75, 0.25, 0);
        assertThat(judge(withoutHalf).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(judge(withoutHalf).because()).contains("never went to 50 %");
        LogBuilder upOnly = level(level(level(level(stage(), 31, 0.25, 0), 45, 0.5, 0), 60, 0.75, 0), 75, 1, 0);
        assertThat(judge(upOnly).because()).contains("never came down");
    }

    @Test
    void aLevelFollowedTooLateIsInconclusiveAndTold() throws Exception {
        assertThat(judge(level(followed(), 119, 0.25, 2.0)).outcome()).isEqualTo(Outcome.PASS);
        Finding f = judge(level(followed(), 119, 0.25, 2.1));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).isEqualTo("25 % followed 2.10 s late"));
    }

    @Test
    void aPowerBrakeFailsAtAnyMomentOfTheRamp() throws Exception {
        Finding f = judge(followed().curve("gpu.throttle.power-brake", m -> m.seconds() == 46 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void aBareSlowdownFailsOnlyAwayFromAChangeOfLevel() throws Exception {
        assertThat(judge(followed().curve("gpu.throttle.hardware-slowdown", m -> m.seconds() == 46 ? 1 : 0))
                        .outcome())
                .isEqualTo(Outcome.PASS);
        assertThat(judge(followed().curve("gpu.throttle.hardware-slowdown", m -> m.seconds() == 52 ? 1 : 0))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void aRampCutShortIsInconclusive() throws Exception {
        assertThat(judge(followed().stops(110, CloseReason.OPERATOR_STOP, "Ctrl-C"))
                        .outcome())
                .isEqualTo(Outcome.INCONCLUSIVE);
    }

    @Test
    void withoutLevelsOrFlagsNothingIsMeasured() throws Exception {
        assertThat(judge(stage()).outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(judge(followed().without(c -> c.id().startsWith("gpu.throttle.")))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }
}
