// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.reporter.pdf.paper.Blocks;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.util.List;
import java.util.Optional;

/** Item, job, run and attempts, whole: what page 1 may have shortened. */
final class JobPages {
    private final Blocks blocks;
    private final Verdict verdict;
    private final Header header;
    private final Optional<JobSheet> job;
    private final Facts facts;
    private final ReportOptions options;

    JobPages(Blocks blocks, Verdict verdict, Facts facts, ReportOptions options) {
        this.blocks = blocks;
        this.verdict = verdict;
        this.header = verdict.header();
        this.job = verdict.jobSheet();
        this.facts = facts;
        this.options = options;
    }

    void write() {
        blocks.newPage();
        item();
        run();
        attempts();
        demonstrated();
    }

    private void item() {
        blocks.heading(blocks.text("job.heading"));
        PdfPTable table = blocks.table(17, 33, 17, 33);
        blocks.pair(
                table,
                "job.number",
                ReportPdf.number(verdict, options),
                "job.ticket",
                blocks.words.stated(header.ticket()));
        options.corrects().ifPresent(c -> {
            blocks.wide(table, "job.replaces", c.number());
            blocks.wide(table, "job.replaces.why", c.reason());
        });
        String earlier = facts.optional(j -> j.issuer().earlierReport());
        if (!earlier.isBlank()) {
            blocks.wide(table, "job.earlier", earlier);
        }
        blocks.pair(table, "job.shop", facts.text(JobSheet::shop), "job.authorised", facts.authorisedBy());
        blocks.pair(
                table,
                "job.technician",
                facts.text(JobSheet::technician),
                "job.received",
                job.flatMap(JobSheet::received).map(blocks.words::day).orElse(blocks.text("open.not-stated")));
        blocks.pair(
                table,
                "job.customer",
                facts.text(JobSheet::customer),
                "job.reference",
                facts.text(j -> j.intake().customerReference()));
        blocks.pair(
                table,
                "job.make",
                facts.machine(JobSheet.Machine::make, "make"),
                "job.model",
                facts.machine(JobSheet.Machine::model, "model"));
        blocks.wide(table, "job.serial", facts.serial());
        blocks.wide(table, "job.condition", facts.text(j -> j.intake().condition()));
        blocks.wide(table, "job.fault", facts.text(JobSheet::reportedFault));
        blocks.wide(
                table,
                "job.fault-times",
                facts.listed(j -> j.minutesBetweenFaults().stream()
                        .map(m -> blocks.text("job.minutes", blocks.words.number(m, "")))
                        .toList()));
        blocks.wide(table, "job.found", facts.listed(j -> j.repair().findings()));
        blocks.wide(table, "job.work", facts.listed(JobSheet::workDone));
        blocks.wide(table, "job.parts", facts.listed(j -> j.repair().partsReplaced()));
        blocks.wide(table, "job.left", facts.listed(j -> j.repair().knownFaults()));
        blocks.pair(table, "job.rail", facts.text(JobSheet::repairedRail), "job.rated", facts.rated());
        blocks.wide(table, "front.power", facts.watts());
        blocks.wide(table, "job.adapter", facts.adapter());
        blocks.wide(table, "job.battery", facts.battery());
        blocks.pair(table, "job.seal", facts.text(j -> j.closing().seal()), "job.closed", facts.closedSinceTest());
        blocks.wide(table, "job.warranty", facts.text(j -> j.issuer().warranty()));
        blocks.add(table);
        blocks.quiet(blocks.text("front.marks"));
    }

    private void run() {
        blocks.heading(blocks.text("run.heading"));
        PdfPTable table = blocks.table(17, 33, 17, 33);
        blocks.pair(table, "run.begun", blocks.words.minute(header.utc()), "run.ambient", facts.ambient());
        String method = blocks.words.stated(verdict.methodVersion());
        blocks.pair(
                table,
                "run.agent",
                blocks.words.stated(header.agentVersion()),
                "run.method",
                options.program().isEmpty() ? method : blocks.text("run.method.by", method, options.program()));
        blocks.wide(
                table,
                "run.procedure",
                verdict.ownProcedure() ? facts.procedure() : blocks.text("run.procedure.other", facts.procedure()));
        blocks.wideExact(table, "run.id", header.runId());
        blocks.wideExact(
                table,
                verdict.ownProcedure() ? "run.digest" : "run.digest.own",
                header.procedure().sha256());
        blocks.pair(
                table, "run.place", blocks.text("run.place.value"), "run.nonce", blocks.words.stated(header.nonce()));
        blocks.add(table);
    }

    private void attempts() {
        List<Verdict.Attempt> attempts = verdict.attempts();
        if (attempts.isEmpty()) {
            blocks.heading(blocks.text("attempts.heading.unknown"));
            blocks.paragraph(blocks.text("front.attempts.unknown"));
            return;
        }
        String last = Integer.toString(facts.attemptNumber());
        String all = Integer.toString(
                attempts.stream().mapToInt(Verdict.Attempt::number).max().orElse(0));
        blocks.heading(blocks.text("attempts.heading", last, all));
        PdfPTable table = blocks.table(6, 36, 58);
        for (Verdict.Attempt attempt : attempts) {
            table.addCell(blocks.value(Integer.toString(attempt.number())));
            table.addCell(blocks.exact(attempt.runId()));
            String summary = blocks.words.stated(blocks.words.figures(attempt.summary()));
            table.addCell(blocks.value(attempt.shown() ? summary : blocks.text("attempts.unread", summary)));
        }
        blocks.add(table);
    }

    private void demonstrated() {
        blocks.heading(blocks.text("demonstrated.heading"));
        if (verdict.demonstrated().isEmpty()) {
            blocks.paragraph(blocks.text("demonstrated.none"));
        } else {
            blocks.bullets(
                    verdict.demonstrated().stream().map(blocks.words::figures).toList());
        }
    }
}
