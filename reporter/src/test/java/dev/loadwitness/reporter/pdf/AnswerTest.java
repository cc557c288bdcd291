// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.procedure.CustomerQuestion;
import java.nio.file.Path;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class AnswerTest {
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
        assertThat(Answer.of(verdict)).first().satisfies(answer -> {
            assertThat(answer.outcome()).isEqualTo(Outcome.FAIL);
            assertThat(answer.because()).startsWith("Shut off after 2 min 30 s").endsWith("suspect the power path.");
        });
    }

    /** A report that was inconclusive because the temperature never settled once answered "Did it stay cool enough? Yes." */
    @Test
    void aTemperatureThatNeverSettledIsNoYesToWhetherItStayedCool() throws Exception {
        Verdict verdict = Judge.judge(Judge.Request.of(Path.of("..", "sample-runs", "still-rising", "run.jsonl")))
                .verdict();
        assertThat(Answer.of(verdict))
                .filteredOn(answer -> answer.question() == CustomerQuestion.COOL)
                .singleElement()
                .satisfies(answer -> {
                    assertThat(answer.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
                    assertThat(answer.because()).contains("not shown to have settled");
                });
    }
}
