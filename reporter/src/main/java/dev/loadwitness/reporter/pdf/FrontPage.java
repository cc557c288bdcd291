// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Element;
import com.lowagie.text.Phrase;
import com.lowagie.text.Rectangle;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.reporter.criteria.Finding;
import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.awt.Color;
import java.time.LocalDate;
import java.util.List;
import java.util.Locale;
import java.util.Optional;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/** The page that answers the customer: what came out, of which machine, after which work, in which run. */
final class FrontPage {
    private final Blocks blocks;
    private final Verdict verdict;
    private final Header header;
    private final Optional<JobSheet> job;
    private final ReportOptions options;

    FrontPage(Blocks blocks, Verdict verdict, ReportOptions options) {
        this.blocks = blocks;
        this.verdict = verdict;
        this.header = verdict.header();
        this.job = verdict.jobSheet();
        this.options = options;
    }

    void write() {
        letterhead();
        verdictBox();
        machineAndJob();
        run();
        attempts();
        demonstrated();
    }

    private void letterhead() {
        PdfPTable table = blocks.table(62, 38);
        PdfPCell shop = blocks.cell(
                job.map(JobSheet::shop).filter(s -> !s.isBlank()).orElse("Shop: not stated"),
                blocks.type.bold(10, Ink.ACCENT));
        shop.setPaddingLeft(0);
        PdfPCell issued =
                blocks.cell("Issued " + Words.minute(options.issuedAt()), blocks.type.regular(Blocks.SMALL, Ink.QUIET));
        issued.setHorizontalAlignment(Element.ALIGN_RIGHT);
        issued.setVerticalAlignment(Element.ALIGN_BOTTOM);
        issued.setPaddingRight(0);
        table.addCell(rule(shop));
        table.addCell(rule(issued));
        PdfPCell title = blocks.across(blocks.cell(ReportPdf.title(verdict), blocks.type.bold(23, Ink.TEXT)), 2);
        title.setPaddingLeft(0);
        title.setPaddingTop(9);
        title.setPaddingBottom(12);
        table.addCell(title);
        blocks.add(table);
    }

    private static PdfPCell rule(PdfPCell cell) {
        cell.setBorder(Rectangle.BOTTOM);
        cell.setBorderColor(Ink.ACCENT);
        cell.setBorderWidth(1.2f);
        return cell;
    }

    private void verdictBox() {
        Outcome outcome = Words.ofRun(verdict.outcome());
        Color ink = Ink.of(outcome);
        PdfPTable table = blocks.table(outcome == Outcome.INCONCLUSIVE ? new float[] {46, 54} : new float[] {30, 70});
        PdfPCell word = blocks.cell(
                Words.loud(outcome), blocks.type.bold(outcome == Outcome.INCONCLUSIVE ? 27 : 40, Color.WHITE));
        word.setBackgroundColor(ink);
        word.setHorizontalAlignment(Element.ALIGN_CENTER);
        word.setVerticalAlignment(Element.ALIGN_MIDDLE);
        word.setMinimumHeight(74);
        // The capitals in the middle of the box: no room for lines above or tails below.
        word.setPadding(0);
        word.setUseAscender(true);
        word.setLeading(0, 1);
        word.setUseDescender(true);
        Phrase phrase = new Phrase();
        phrase.add(new Phrase(blocks.type.clean(verdict.sentence()), blocks.type.bold(12, Ink.TEXT)));
        phrase.add(new Phrase("\n" + tally(), blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        PdfPCell sentence = blocks.cell(phrase, 12);
        sentence.setVerticalAlignment(Element.ALIGN_MIDDLE);
        sentence.setPadding(10);
        sentence.setUseAscender(true);
        for (PdfPCell cell : List.of(word, sentence)) {
            cell.setBorder(Rectangle.BOX);
            cell.setBorderColor(ink);
            cell.setBorderWidth(1.6f);
            table.addCell(cell);
        }
        table.setSpacingAfter(2);
        blocks.add(table);
    }

    /** {@code Of 9 criteria: 8 pass, 1 fail.} */
    private String tally() {
        if (verdict.findings().isEmpty()) {
            return "No criterion was judged.";
        }
        String counts = Stream.of(Outcome.values())
                .map(o -> new Object() {
                    final long count = verdict.findings().stream()
                            .map(Finding::outcome)
                            .filter(o::equals)
                            .count();
                    final String text = count + " " + o.word().replace('-', ' ');
                })
                .filter(c -> c.count > 0)
                .map(c -> c.text)
                .collect(Collectors.joining(", "));
        return String.format(Locale.ROOT, "Findings: %s.", counts);
    }

    private void machineAndJob() {
        blocks.heading("Machine and job");
        PdfPTable table = blocks.table(17, 33, 17, 33);
        pair(
                table,
                "Make [t]",
                machine(JobSheet.Machine::make, "make"),
                "Model [t]",
                machine(JobSheet.Machine::model, "model"));
        pair(table, "Serial number [t]", serial(), "Ticket", Blocks.stated(header.ticket()));
        pair(
                table,
                "Customer [c]",
                text(JobSheet::customer),
                "Received [t]",
                job.flatMap(JobSheet::received).map(LocalDate::toString).orElse("not stated"));
        wide(table, "Reported fault [c]", text(JobSheet::reportedFault));
        wide(
                table,
                "Work done [t]",
                job.map(JobSheet::workDone)
                        .filter(w -> !w.isEmpty())
                        .map(w -> String.join("; ", w))
                        .orElse("not stated"));
        pair(
                table,
                "Repaired rail [t]",
                text(JobSheet::repairedRail),
                "Rated graphics [t]",
                job.map(j -> Words.number(j.ratedGraphicsWatts(), "W")).orElse("not stated"));
        pair(
                table,
                "Adapter [t]",
                job.map(j -> Words.number(j.adapterWatts(), "W")).orElse("not stated"),
                "Technician",
                text(JobSheet::technician));
        blocks.add(table);
        blocks.quiet(
                "[c] supplied by the customer, not checked here.  [t] stated by the technician, not measured by the"
                        + " program.");
    }

    private void run() {
        blocks.heading("The run");
        PdfPTable table = blocks.table(17, 33, 17, 33);
        pair(
                table,
                "Begun",
                Words.minute(header.utc()),
                "Ambient",
                header.ambientCelsius().isPresent()
                        ? Words.number(header.ambientCelsius(), "°C")
                                + (header.ambientHow().isBlank() ? "" : ", " + header.ambientHow())
                        : "not taken");
        pair(
                table,
                "Agent version",
                Blocks.stated(header.agentVersion()),
                "Judged by method",
                Blocks.stated(verdict.methodVersion())
                        + (options.program().isEmpty() ? "" : ", reporter " + options.program()));
        wide(table, "Procedure", procedure() + (verdict.ownProcedure() ? "" : ": not the one that the run began with"));
        table.addCell(blocks.label("Run id"));
        table.addCell(blocks.across(blocks.exact(header.runId()), 3));
        table.addCell(
                blocks.label(verdict.ownProcedure() ? "Procedure SHA-256" : "SHA-256 of the run's own procedure"));
        table.addCell(blocks.across(blocks.exact(header.procedure().sha256()), 3));
        if (!header.nonce().isBlank()) {
            wide(table, "Bench word", header.nonce());
        }
        blocks.add(table);
    }

    private String procedure() {
        String title = verdict.procedure().title();
        String name = verdict.procedure().name();
        return title.isBlank() || name.isBlank() ? Blocks.stated(title + name) : title + " (" + name + ")";
    }

    private void attempts() {
        List<Verdict.Attempt> attempts = verdict.attempts();
        if (attempts.isEmpty()) {
            blocks.heading("Attempts");
            blocks.paragraph("The attempts on this ticket are not known.");
            return;
        }
        int last = attempts.get(attempts.size() - 1).number();
        int all = attempts.stream().mapToInt(Verdict.Attempt::number).max().orElse(last);
        blocks.heading("Attempt " + last + " of " + all + " on this ticket");
        PdfPTable table = blocks.table(8, 34, 58);
        for (Verdict.Attempt attempt : attempts) {
            table.addCell(blocks.value(Integer.toString(attempt.number())));
            table.addCell(blocks.exact(attempt.runId()));
            table.addCell(blocks.value(
                    Blocks.stated(attempt.summary()) + (attempt.shown() ? "" : " (its log was not read here)")));
        }
        blocks.add(table);
    }

    private void demonstrated() {
        blocks.heading("What was demonstrated");
        if (verdict.demonstrated().isEmpty()) {
            blocks.paragraph("No time under the demanded load counts: nothing was demonstrated.");
        } else {
            blocks.bullets(verdict.demonstrated());
        }
    }

    private String text(java.util.function.Function<JobSheet, String> field) {
        return Blocks.stated(job.map(field).orElse(""));
    }

    private String machine(java.util.function.Function<JobSheet.Machine, String> field, String fact) {
        String written = job.map(JobSheet::machine).map(field).orElse("");
        if (!written.isBlank()) {
            return written;
        }
        String found = header.fact("machine", fact);
        return found.isBlank() ? "not stated" : found + " (as the machine reports it)";
    }

    private String serial() {
        return header.withheld().contains("serial")
                ? "withheld on request"
                : machine(JobSheet.Machine::serial, "serial");
    }

    private void pair(PdfPTable table, String label, String value, String label2, String value2) {
        table.addCell(blocks.label(label));
        table.addCell(blocks.value(value));
        table.addCell(blocks.label(label2));
        table.addCell(blocks.value(value2));
    }

    private void wide(PdfPTable table, String label, String value) {
        table.addCell(blocks.label(label));
        table.addCell(blocks.across(blocks.value(value), 3));
    }
}
