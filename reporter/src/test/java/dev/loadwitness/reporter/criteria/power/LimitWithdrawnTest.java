// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class LimitWithdrawnTest {
    @TempDir
    Path folder;

    private static LogBuilder soak() {
        return LogBuilder.gpuSoak(90, "limit-withdrawn", "mandatory: yes, tolerance: 2 %");
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.LIMIT_WITHDRAWN);
    }

    @Test
    void aLimitThatStaysPasses() throws Exception {
        Finding f = judge(soak());
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.limit()).isEqualTo("at least 147 W");
        assertThat(f.measured()).isEqualTo("150 W");
    }

    @Test
    void aLimitThatFallsOnMainsFailsAndTheEventThatSaysSoIsEvidence() throws Exception {
        Finding f = judge(soak().curve("gpu.power.limit", m -> m.seconds() > 70 && m.seconds() <= 80 ? 60 : 150)
                .event(
                        70.5,
                        EventKind.LIMIT_CHANGED,
                        LogBuilder.facts("channel", "gpu.power.limit", "from", 150.0, "to", 60.0)));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("fell to 60 W of 150 W while on mains, from 1:11 for 10 s of load");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("from 150 to 60"));
    }

    @Test
    void whatPrecededTheFallIsReported() throws Exception {
        Finding f = judge(soak().curve("gpu.power.limit", m -> m.seconds() > 70 && m.seconds() <= 80 ? 60 : 150)
                .event(65, EventKind.KERNEL_MESSAGE, LogBuilder.facts("text", "adapter not recognised"))
                .event(95, EventKind.OPERATOR_NOTE, LogBuilder.facts("text", "too late to have been the cause")));
        assertThat(f.evidence())
                .extracting(Evidence::text)
                .contains("before it: kernel-message text adapter not recognised")
                .noneMatch(t -> t.contains("too late"));
    }

    @Test
    void aLimitExactlyAtTheToleranceIsNotWithdrawnAndOneBelowIs() throws Exception {
        assertThat(judge(soak().curve("gpu.power.limit", m -> m.seconds() > 70 ? 147 : 150))
                        .outcome())
                .isEqualTo(Outcome.PASS);
        assertThat(judge(soak().curve("gpu.power.limit", m -> m.seconds() > 70 ? 146.9 : 150))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void aLimitThatFallsOnBatteryIsTheMachinesDesign() throws Exception {
        LogBuilder log = soak().curve("adapter.online", m -> m.seconds() > 70 && m.seconds() <= 80 ? 0 : 1)
                .curve("gpu.power.limit", m -> m.seconds() > 70 && m.seconds() <= 80 ? 60 : 150);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aLimitBelowTheJobSheetsRatingThroughoutFails() throws Exception {
        Finding f = judge(soak().jobSheet("rated-graphics-power: 150 W\n").curve("gpu.power.limit", m -> 80));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.limitOrigin()).isEqualTo("job sheet");
    }

    @Test
    void withoutALimitOrWithoutMainsNothingIsMeasured() throws Exception {
        assertThat(judge(soak().without(c -> c.metric().equals(Metric.POWER_LIMIT)))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
        assertThat(judge(soak().curve("adapter.online", m -> 0)).outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void aLimitThatFellSilentUnderLoadIsNotMeasured() throws Exception {
        Finding f = judge(soak().curve("gpu.power.limit", m -> m.loaded() ? Double.NaN : 150));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void theJobSheetCanDeclareItNotApplicable() throws Exception {
        assertThat(judge(soak().jobSheet("not-applicable:\n  limit-withdrawn: bench supply\n"))
                        .outcome())
                .isEqualTo(Outcome.NOT_APPLICABLE);
    }
}
