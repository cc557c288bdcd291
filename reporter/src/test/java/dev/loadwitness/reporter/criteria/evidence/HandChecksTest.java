// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.evidence;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class HandChecksTest {
    @TempDir
    Path folder;

    private Finding judge(String... checks) throws IOException {
        LogBuilder log = LogBuilder.gpuSoak(20, "hand-checks", "mandatory: yes")
                .jobSheet("hand-checks: [" + String.join(", ", checks) + "]\n");
        return Judged.finding(folder, log, Criterion.HAND_CHECKS);
    }

    @Test
    void allTickedPasses() throws IOException {
        Finding f = judge("{name: keyboard, done: yes}", "{name: fans, done: yes}");
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("2 of 2");
        assertThat(f.because()).startsWith("All 2 checks by hand");
    }

    @Test
    void oneOpenIsInconclusiveAndNamed() throws IOException {
        Finding f = judge("{name: keyboard, done: yes}", "{name: fans, done: no, note: after the run}");
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("still open: fans (after the run)").doesNotContain("keyboard");
        assertThat(f.measured()).isEqualTo("1 of 2");
    }

    @Test
    void oneThatFailedFailsWhateverElseIsOpen() throws IOException {
        Finding f = judge("{name: keyboard, done: yes, failed: yes, note: key 7 dead}", "{name: fans}");
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("fails: keyboard (key 7 dead)", "still open: fans");
        assertThat(f.measured()).isEqualTo("0 of 2");
    }

    @Test
    void oneThatDoesNotApplyIsNotAskedFor() throws IOException {
        Finding f = judge("{name: keyboard, done: yes}", "{name: network socket, not-applicable: this model has none}");
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("1 of 1");
        assertThat(f.evidence())
                .extracting(Evidence::text)
                .contains("network socket: not applicable (this model has none)");
        assertThat(judge("{name: network socket, not-applicable: this model has none}")
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void noSheetAndNoChecksAreNotMeasured() throws IOException {
        for (LogBuilder log : new LogBuilder[] {
            LogBuilder.gpuSoak(20, "hand-checks", "mandatory: yes"),
            LogBuilder.gpuSoak(20, "hand-checks", "mandatory: yes").jobSheet("hand-checks:\n")
        }) {
            assertThat(Judged.finding(folder, log, Criterion.HAND_CHECKS).outcome())
                    .isEqualTo(Outcome.NOT_MEASURED);
        }
    }
}
