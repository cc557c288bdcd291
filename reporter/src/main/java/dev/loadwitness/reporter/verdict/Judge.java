// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import dev.loadwitness.reporter.criteria.Criteria;
import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.ScanOptions;
import dev.loadwitness.reporter.scan.Scanning;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.procedure.GraphicsRail;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import dev.loadwitness.runlog.yaml.Measure;
import java.io.IOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.stream.Collectors;

/** From a log to a verdict. */
public final class Judge {
    /** Raised whenever the same log could come out differently. */
    public static final String METHOD_VERSION = "5";

    private Judge() {}

    /**
     * What to judge.
     *
     * @param otherProcedure criteria to judge by instead of the run's own
     * @param jobSheet a job sheet to use instead of the one in the log
     * @param earlier logs of earlier attempts on the ticket
     * @param series whether the scan keeps series for drawing
     */
    public record Request(
            Path log,
            Optional<Procedure> otherProcedure,
            Optional<JobSheet> jobSheet,
            List<Path> earlier,
            boolean series) {
        public Request {
            earlier = List.copyOf(earlier);
        }

        public static Request of(Path log) {
            return new Request(log, Optional.empty(), Optional.empty(), List.of(), false);
        }
    }

    /**
     * Judges a log.
     *
     * @throws IOException if a file cannot be read or is no run log, or the job sheet is for another ticket
     */
    public static Judgement judge(Request request) throws IOException {
        Scan scan = Scanning.of(request.log(), new ScanOptions(request.otherProcedure(), request.series()));
        if (request.jobSheet().isPresent()) {
            LaterSheet.refuseOtherTicket(scan.header(), request.jobSheet().get());
        }
        Optional<JobSheet> jobSheet = request.jobSheet().isPresent() ? request.jobSheet() : ownJobSheet(scan);
        Procedure judgedBy = request.otherProcedure()
                .map(other -> other.forRail(scan.repairedRail()))
                .orElse(scan.procedure());
        boolean ownProcedure = judgedBy.equals(scan.procedure());
        Case run = new Case(scan, judgedBy, jobSheet);
        List<Finding> findings = Criteria.judge(run);
        if (!scan.read().whole()) {
            findings = findings.stream().map(Finding::notReliedOn).toList();
        }
        Attempts attempts = Attempts.of(run, request.earlier());
        boolean loaded = !scan.procedure().provedParts().isEmpty();
        Outcome outcome = loaded ? decide(findings) : atMostInconclusive(decide(findings));
        List<String> notes = notes(run, ownProcedure, attempts);
        Verdict verdict = new Verdict(
                outcome,
                Sentence.of(outcome, findings, scan),
                findings,
                notes,
                METHOD_VERSION,
                scan.header(),
                judgedBy,
                ownProcedure,
                jobSheet,
                attempts.list(),
                Demonstrated.of(attempts, jobSheet),
                scan.read().sha256(),
                scan.read().lastChain());
        return new Judgement(verdict, scan, attempts.read());
    }

    private static Optional<JobSheet> ownJobSheet(Scan scan) throws IOException {
        if (scan.header().jobSheet().isEmpty()) {
            return Optional.empty();
        }
        Attachment sheet = scan.header().jobSheet().get();
        try {
            return Optional.of(JobSheetReader.read(sheet.name(), sheet.text()));
        } catch (JobSheetException e) {
            throw new IOException("the job sheet inside the log cannot be read by this version:\n" + e.getMessage(), e);
        }
    }

    /** Fail if a mandatory criterion fails; else inconclusive if one is inconclusive or not measured; else pass. */
    static Outcome decide(List<Finding> findings) {
        List<Finding> mandatory = findings.stream().filter(Finding::mandatory).toList();
        if (mandatory.stream().anyMatch(f -> f.outcome() == Outcome.FAIL)) {
            return Outcome.FAIL;
        }
        boolean open = mandatory.stream()
                .anyMatch(f -> f.outcome() == Outcome.INCONCLUSIVE || f.outcome() == Outcome.NOT_MEASURED);
        boolean decided = mandatory.stream().anyMatch(f -> f.outcome() == Outcome.PASS);
        return open || !decided ? Outcome.INCONCLUSIVE : Outcome.PASS;
    }

    /** A run that put no load on any part has shown nothing that could pass. */
    private static Outcome atMostInconclusive(Outcome outcome) {
        return outcome == Outcome.PASS ? Outcome.INCONCLUSIVE : outcome;
    }

    private static List<String> notes(Case run, boolean ownProcedure, Attempts attempts) {
        List<String> notes = new ArrayList<>();
        if (run.scan().header().simulated()) {
            notes.add("SIMULATED: no machine was measured.");
        }
        if (!ownProcedure) {
            notes.add("Judged by procedure '" + run.judgedBy().name() + "', not by the one the run began with ('"
                    + run.scan().procedure().name() + "').");
        }
        run.jobSheet()
                .ifPresent(sheet -> notes.addAll(LaterSheet.notes(run.scan().header(), sheet)));
        repairedRail(run).ifPresent(notes::add);
        notes.addAll(attempts.notes());
        if (run.scan().header().ambientCelsius().isEmpty()) {
            notes.add("The ambient temperature was not taken.");
        }
        run.scan().read().damages().stream()
                .filter(d -> d.isTornTail())
                .forEach(d -> notes.add("A crash during an append left " + d.bytes() + " bytes at " + d.place()
                        + " that are no record; nothing else is missing."));
        return notes;
    }

    /** Which stages were run for longer, and whether a sheet given later would have had others. */
    private static Optional<String> repairedRail(Case run) {
        Procedure ran = run.scan().procedure();
        String longer = ran.stages().stream()
                .filter(Stage::isLengthened)
                .map(stage -> stage.id() + " "
                        + Measure.DURATION.write(stage.duration().toNanos() / 1e9))
                .collect(Collectors.joining(", "));
        String rail = run.scan().repairedRail();
        String sheet = run.jobSheet().map(JobSheet::repairedRail).orElse("");
        String said = longer.isEmpty() ? "" : "Planned longer for the repaired rail (" + rail + "): " + longer + ".";
        boolean asks = !ran.railsWithAShare().isEmpty();
        if (asks && !GraphicsRail.named(sheet).equals(GraphicsRail.named(rail))) {
            said += (said.isEmpty() ? "" : " ") + "The job sheet given later names the repaired rail '" + sheet
                    + "'; the stages stay as they were planned by the sheet that the run began with.";
        }
        return said.isEmpty() ? Optional.empty() : Optional.of(said);
    }
}
