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
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class EnergyAgreesTest {
    @TempDir
    Path folder;

    private static LogBuilder soak(double counted) {
        return LogBuilder.gpuSoak(120, "energy-agrees", "mandatory: yes")
                .curve("gpu.energy", m -> m.loaded() ? counted : 15);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.ENERGY_AGREES);
    }

    /** 140 W read; 2 % off at 137.25 and 142.86 W counted. */
    @Test
    void twoPerCentEitherWayAgree() throws Exception {
        assertThat(judge(soak(140)).measured()).isEqualTo("+0.00 %");
        assertThat(judge(soak(140)).because()).contains("Over 1 min 50 s", "grew by 15.4 kJ");
        assertThat(judge(soak(137.3)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(soak(137.2)).outcome()).isEqualTo(Outcome.FAIL);
        assertThat(judge(soak(142.8)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(soak(142.9)).outcome()).isEqualTo(Outcome.FAIL);
    }

    /** The trapezoid of a straight line is exact: a power that rises steadily and its own integral agree. */
    @Test
    void readingsAreJoinedByStraightLines() throws Exception {
        LogBuilder log = soak(0).curve("gpu.power", m -> m.intoStage())
                .curve("gpu.energy", m -> m.loaded() ? m.intoStage() - 0.5 : 0);
        assertThat(judge(log).measured()).isEqualTo("+0.00 %");
    }

    @Test
    void whatOneSideMissedIsLeftOutOnBoth() throws Exception {
        LogBuilder log = soak(140).curve("gpu.power", m -> m.intoStage() > 40 && m.intoStage() < 60 ? Double.NaN : 140);
        assertThat(judge(log).measured()).isEqualTo("+0.00 %");
        assertThat(judge(log).because()).startsWith("Over 1 min 30 s");
    }

    @Test
    void aCounterThatStandsStillFails() throws Exception {
        assertThat(judge(soak(0)).measured()).isEqualTo("the counter stood still");
        assertThat(judge(soak(0)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void lessThanAMinuteIsNotMeasured() throws Exception {
        assertThat(judge(LogBuilder.gpuSoak(60, "energy-agrees", "mandatory: yes"))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }
}
