// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static dev.loadwitness.reporter.scan.LogBuilder.facts;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class WorkErrorsTest {
    @TempDir
    Path folder;

    private static LogBuilder soak(String settings) {
        return LogBuilder.gpuSoak(90, "compute-errors", settings);
    }

    private static LogBuilder wrong(LogBuilder log, double errors) {
        return log.curve("gpu.work.errors", m -> m.seconds() == 60 ? errors : 0);
    }

    private static LogBuilder march() {
        return LogBuilder.laptop()
                .stage("march", 90, "loads: [memory], memory-share: 50 %, proves: memory", Role.MEMORY)
                .criterion("memory-errors", "mandatory: yes")
                .channel(
                        Channel.of("memory.work.verified", Metric.WORK_VERIFIED, Role.MEMORY, "load"),
                        m -> m.loaded() ? 10 : 0)
                .channel(Channel.of("memory.work.errors", Metric.WORK_ERRORS, Role.MEMORY, "load"), m -> 0);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.COMPUTE_ERRORS);
    }

    @Test
    void workWithoutErrorsPassesAndSaysHowMuchWasChecked() throws Exception {
        Finding f = judge(soak("mandatory: yes"));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.because()).isEqualTo("90,000 units of work on the discrete GPU were checked, none was wrong.");
    }

    @Test
    void oneWrongResultFails() throws Exception {
        Finding f = judge(wrong(soak("mandatory: yes"), 1));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).startsWith("1 result of the discrete GPU was wrong");
    }

    @Test
    void asManyAsTheProcedureLetsPassPassAndOneMoreFails() throws Exception {
        assertThat(judge(wrong(soak("mandatory: yes, at-most: 3"), 3)).outcome())
                .isEqualTo(Outcome.PASS);
        assertThat(judge(wrong(soak("mandatory: yes, at-most: 3"), 4)).outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void anErrorToldAsAnEventCountsEvenWhereTheCounterMissedIt() throws Exception {
        Finding f = judge(soak("mandatory: yes")
                .event(70, EventKind.COMPUTE_ERROR, facts("role", "gpu-discrete", "detail", "lane 3 differs")));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).isEqualTo("lane 3 differs"));
    }

    @Test
    void workThatWasNeverDoneIsNotMeasured() throws Exception {
        assertThat(judge(soak("mandatory: yes").curve("gpu.work.verified", m -> 0))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void withoutACountOfErrorsNothingIsMeasured() throws Exception {
        assertThat(judge(soak("mandatory: yes").without(c -> c.metric().equals(Metric.WORK_ERRORS)))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void aProvedPartWithoutWorkIsNotCoveredByWorkOnAnother() throws Exception {
        LogBuilder log = soak("mandatory: yes")
                .without(c -> c.id().startsWith("gpu.work."))
                .channel(Channel.of("cpu.work.verified", Metric.WORK_VERIFIED, Role.CPU, "load"), m -> 5)
                .channel(Channel.of("cpu.work.errors", Metric.WORK_ERRORS, Role.CPU, "load"), m -> 0);
        List<Finding> found = Judged.findings(folder, log, Criterion.COMPUTE_ERRORS);
        assertThat(found).anySatisfy(f -> {
            assertThat(f.subject()).isEqualTo("gpu-discrete");
            assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        });
    }

    @Test
    void memoryIsJudgedByItsOwnCriterion() throws Exception {
        Finding good = Judged.finding(folder, march(), Criterion.MEMORY_ERRORS);
        assertThat(good.outcome()).isEqualTo(Outcome.PASS);
        LogBuilder bad = march().curve("memory.work.errors", m -> m.seconds() == 50 ? 2 : 0);
        Finding f = Judged.finding(folder, bad, Criterion.MEMORY_ERRORS);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("faulty memory, or its supply");
        Finding untested =
                Judged.finding(folder, march().without(c -> c.role() == Role.MEMORY), Criterion.MEMORY_ERRORS);
        assertThat(untested.outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void theJobSheetCanDeclareItNotApplicable() throws Exception {
        assertThat(judge(soak("mandatory: yes").jobSheet("not-applicable:\n  compute-errors: another load was used\n"))
                        .outcome())
                .isEqualTo(Outcome.NOT_APPLICABLE);
    }
}
