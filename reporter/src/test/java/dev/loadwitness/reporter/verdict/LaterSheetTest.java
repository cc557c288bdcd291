// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatExceptionOfType;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.text.VerdictText;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import java.io.IOException;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** What is measured by hand comes after the run, on a sheet that was not in the log. */
class LaterSheetTest {
    private static final String HEAD = "format: loadwitness-job-sheet/1\nticket: ";
    private static final String BEGAN = """
            machine: {make: Alder Works, model: AW-17 Kestrel, serial: AWK17-004711}
            rated-graphics-power: 150 W
            hand-checks: [{name: keyboard}]
            """;

    @TempDir
    Path folder;

    private static LogBuilder run() {
        return LogBuilder.gpuSoak(20, "hand-checks", "mandatory: yes").jobSheet(BEGAN);
    }

    private Verdict judge(LogBuilder log, String later) throws IOException, JobSheetException {
        Optional<JobSheet> sheet =
                later.isEmpty() ? Optional.empty() : Optional.of(JobSheetReader.read("later.yaml", HEAD + later));
        return Judge.judge(new Judge.Request(log.write(folder), Optional.empty(), sheet, List.of(), false))
                .verdict();
    }

    private static String notes(Verdict verdict) {
        return String.join("\n", verdict.notes());
    }

    @Test
    void aSheetCompletedAfterTheRunDecidesAndItsDigestIsNamed() throws Exception {
        String completed = "FBR-2026-0142\n" + BEGAN.replace("{name: keyboard}", "{name: keyboard, done: yes}");

        assertThat(judge(run(), "").outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        Verdict verdict = judge(run(), completed);

        assertThat(verdict.outcome()).isEqualTo(Outcome.PASS);
        assertThat(verdict.sheetGivenAfterRun()).isTrue();
        assertThat(notes(verdict))
                .contains("given after the run (SHA-256 "
                        + verdict.jobSheet().orElseThrow().sha256())
                .contains("the run began with another (SHA-256 "
                        + verdict.header().jobSheet().orElseThrow().sha256())
                .doesNotContain("Changed");
        assertThat(verdict.jobSheet().get().sha256()).hasSize(64);
    }

    @Test
    void theRunsOwnSheetGivenAgainIsNoOther() throws Exception {
        Verdict verdict = judge(run(), "FBR-2026-0142\n" + BEGAN);

        assertThat(verdict.sheetGivenAfterRun()).isFalse();
        assertThat(notes(verdict)).doesNotContain("after the run");
    }

    @Test
    void theSheetOfAnotherTicketIsRefused() {
        assertThatExceptionOfType(IOException.class)
                .isThrownBy(() -> judge(run(), "FBR-2026-0143\n" + BEGAN))
                .withMessageContaining("for ticket FBR-2026-0143")
                .withMessageContaining("of ticket FBR-2026-0142");
    }

    @Test
    void whatChangedSinceTheRunBeganIsSaid() throws Exception {
        Verdict verdict = judge(run(), """
                FBR-2026-0142
                machine: {make: Alder Works, model: AW-15, serial: AWK17-004712}
                rated-graphics-power: 120 W
                wall-meter: {idle: 40 W, soak: 230 W}
                hand-checks: [{name: keyboard, done: yes}]
                not-applicable: {charging: no battery fitted}
                """);

        assertThat(notes(verdict))
                .contains(
                        "Changed on the job sheet since the run began: model from 'AW-17 Kestrel' to 'AW-15'; serial number"
                                + " from 'AWK17-004711' to 'AWK17-004712'; rated graphics power from 150 W to 120 W;"
                                + " charging declared not applicable.");
    }

    @Test
    void aRunThatBeganWithoutASheetSaysSo() throws Exception {
        Verdict verdict = judge(LogBuilder.gpuSoak(20, "hand-checks", "mandatory: yes"), "FBR-2026-0142\n" + BEGAN);

        assertThat(notes(verdict)).contains("the run began without one");
        assertThat(verdict.sheetGivenAfterRun()).isTrue();
    }

    /** The longest word that is read, and letters that stack: no line is wider than the terminal. */
    @Test
    void endlessWordsOfTheSheetStayWithinTheTerminal() throws Exception {
        String word = "x".repeat(100);
        Verdict verdict = judge(
                LogBuilder.gpuSoak(20, "rails", "mandatory: yes"),
                "FBR-2026-0142\nmachine: {make: " + word + ", model: " + "\u0301".repeat(90) + "}\nrails: [{name: "
                        + word + ", least: 1 V, limits-origin: '<b>&amp;</b> " + "y".repeat(1900)
                        + "', voltage-after: 2 V}]\n");

        String shown = VerdictText.render(verdict, 60, false);
        assertThat(shown).contains("<b>&amp;</b>");
        assertThat(shown.lines())
                .allSatisfy(line ->
                        assertThat(line.replaceAll("\\p{M}", "").length()).isLessThanOrEqualTo(60));
    }
}
