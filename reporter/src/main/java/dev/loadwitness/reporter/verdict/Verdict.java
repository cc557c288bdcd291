// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.procedure.Procedure;
import java.util.List;
import java.util.Optional;

/**
 * The whole decision, and all that is needed to say it in any layout.
 *
 * @param sentence what happened and what it points to: the first thing that anyone reads
 * @param notes further sentences that belong on every layout: what was not measured, attempts, criteria exchanged
 * @param methodVersion version of the judging method; the same log and method give the same verdict
 * @param procedure the one judged by
 * @param ownProcedure false if judged by other criteria than the run began with
 * @param attempts the attempts on this ticket that are known, the one judged last
 * @param demonstrated what all attempts show together, in sentences; empty if nothing qualified
 * @param logSha256 one for each file of the log
 */
public record Verdict(
        Outcome outcome,
        String sentence,
        List<Finding> findings,
        List<String> notes,
        String methodVersion,
        Header header,
        Procedure procedure,
        boolean ownProcedure,
        Optional<JobSheet> jobSheet,
        List<Attempt> attempts,
        List<String> demonstrated,
        List<String> logSha256,
        String lastChain) {
    public Verdict {
        findings = List.copyOf(findings);
        notes = List.copyOf(notes);
        attempts = List.copyOf(attempts);
        demonstrated = List.copyOf(demonstrated);
        logSha256 = List.copyOf(logSha256);
    }

    /** Whether the job sheet judged with is another one than the run began with, or the run began without. */
    public boolean sheetGivenAfterRun() {
        return jobSheet.isPresent()
                && !header.jobSheet()
                        .map(Attachment::sha256)
                        .equals(Optional.of(jobSheet.get().sha256()));
    }

    /**
     * One run on this ticket.
     *
     * @param summary for example {@code 41 min qualified, then shut off}; or that its log was not given
     * @param shown true if its log was read
     */
    public record Attempt(int number, String runId, String summary, boolean shown) {}
}
