// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** The run was planned by the job sheet that it began with, and is judged by that plan. */
class RepairedRailTest {
    @TempDir
    Path folder;

    /** The core stage took 240 s, as it does if its rail was repaired; else 120 s. */
    private static LogBuilder run(String sheet) {
        return LogBuilder.laptop()
                .idle("idle", 30)
                .soakOfRail("core", 240, 120, "graphics-core")
                .criterion("soak-duration", "mandatory: yes, at-least: 2 min")
                .jobSheet(sheet);
    }

    private Verdict judge(LogBuilder log, String laterSheet) throws Exception {
        Optional<JobSheet> later = laterSheet.isEmpty()
                ? Optional.empty()
                : Optional.of(JobSheetReader.read(
                        "later.yaml",
                        "format: loadwitness-job-sheet/1\nticket: FBR-2026-0142\nrepaired-rail: " + laterSheet + "\n"));
        return Judge.judge(new Judge.Request(log.write(folder), Optional.empty(), later, List.of(), false))
                .verdict();
    }

    private static Finding evidence(Verdict verdict) {
        return verdict.findings().stream()
                .filter(f -> f.criterion() == Criterion.EVIDENCE)
                .findFirst()
                .orElseThrow();
    }

    @Test
    void theLongerStageIsWhatWasPlannedAndTheVerdictSaysSo() throws Exception {
        Verdict verdict = judge(run("repaired-rail: graphics core\n"), "");

        assertThat(evidence(verdict).outcome()).isEqualTo(Outcome.PASS);
        assertThat(verdict.outcome()).isEqualTo(Outcome.PASS);
        assertThat(verdict.notes()).contains("Planned longer for the repaired rail (graphics core): core 4 min.");
    }

    @Test
    void aSheetGivenLaterChangesNoStageThatWasRun() throws Exception {
        Verdict verdict = judge(run("repaired-rail: graphics core\n"), "graphics memory");

        assertThat(verdict.outcome()).isEqualTo(Outcome.PASS);
        assertThat(evidence(verdict).because())
                .isEqualTo(evidence(judge(run("repaired-rail: graphics core\n"), ""))
                        .because());
        assertThat(verdict.notes())
                .anySatisfy(note -> assertThat(note)
                        .contains("core 4 min")
                        .contains("names the repaired rail 'graphics memory'; the stages stay as they were planned"));
    }

    @Test
    void aRailNamedOnlyLaterDoesNotMakeAShortRunALongOne() throws Exception {
        LogBuilder asWritten = LogBuilder.laptop()
                .idle("idle", 30)
                .stage(
                        "core",
                        120,
                        "loads: [gpu-mix], gpu: gpu-discrete, proves: gpu-discrete, if-repaired: {graphics-core: 240 s}",
                        Role.GPU_DISCRETE)
                .criterion("soak-duration", "mandatory: yes, at-least: 100 s");
        Verdict verdict = judge(asWritten, "graphics core");

        assertThat(verdict.outcome()).isEqualTo(Outcome.PASS);
        assertThat(verdict.notes()).noneMatch(note -> note.contains("Planned longer"));
        assertThat(verdict.notes()).anyMatch(note -> note.contains("given later names the repaired rail"));
    }

    /** Free text of an old sheet, or a log whose two halves disagree. */
    @Test
    void aStageThatWasBegunForAnotherTimeThanTheHeaderGivesItIsInconclusive() throws Exception {
        Verdict verdict = judge(run("repaired-rail: the one beside the connector\n"), "");

        assertThat(evidence(verdict).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(evidence(verdict).because())
                .contains("Stage core was begun for 4 min")
                .contains("give it 2 min");
    }

    @Test
    void theRunsOwnProcedureHandedInAgainIsStillItsOwn() throws Exception {
        LogBuilder log = run("repaired-rail: graphics core\n");
        Procedure same = ProcedureReader.read("bench-test.yaml", log.procedure());
        Verdict verdict = Judge.judge(
                        new Judge.Request(log.write(folder), Optional.of(same), Optional.empty(), List.of(), false))
                .verdict();

        assertThat(verdict.ownProcedure()).isTrue();
        assertThat(verdict.outcome()).isEqualTo(Outcome.PASS);
    }
}
