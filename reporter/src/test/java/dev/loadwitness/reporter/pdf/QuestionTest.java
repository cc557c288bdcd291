// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Verdict;
import java.nio.file.Path;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class QuestionTest {
    @TempDir
    Path folder;

    @Test
    void aDeathIsAnsweredWithWhatItPointsToAndTheHeadlineHasTheRest() throws Exception {
        Path log = LogBuilder.laptop()
                .idle("idle", 30)
                .soak("soak", 300)
                .criterion("interruptions", "mandatory: yes")
                .restarts(150, "boot-1")
                .evidence(Map.of("same-boot", "no", "system-log", "none", "crash-store", "empty"))
                .write(folder);
        Verdict verdict = Judge.judge(Judge.Request.of(log)).verdict();
        assertThat(verdict.sentence()).contains(" Not excluded: a hang");
        assertThat(Question.answers(verdict)).first().satisfies(answer -> {
            assertThat(answer.outcome()).isEqualTo(Outcome.FAIL);
            assertThat(answer.because()).startsWith("Shut off after 2 min 30 s").endsWith("suspect the power path.");
        });
    }
}
