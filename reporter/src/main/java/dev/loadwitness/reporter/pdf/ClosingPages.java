// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Element;
import com.lowagie.text.Rectangle;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.stream.Collectors;

/** Cautions, what the report rests on, and the technician's signature: the end of the report. */
final class ClosingPages {
    private static final List<String> CAUTIONS = List.of(
            "Local codes and the limits of licensed practice come first; nothing in this report replaces them.",
            "Lithium battery: do not run, charge or post a machine whose battery is swollen, dented, wet or smells. Put"
                    + " it outside, away from anything that burns, and have it replaced.",
            "Hot surfaces: after full load the heatsink, the outlet and the underside can burn skin. Let the machine"
                    + " cool before opening or packing it.",
            "Mains adapter: use the one rated for this machine, undamaged, on an earthed outlet where it has an earth"
                    + " pin. Never open it.",
            "The first full load after work on a power stage is attended, on a surface that does not burn, with vents"
                    + " clear and heatsink and pads fitted: software is too slow to outrun a shorted switch.",
            "A machine that switches off again under load should not be loaded again before it has been looked at.");

    private final Blocks blocks;
    private final Verdict verdict;
    private final ReportOptions options;

    ClosingPages(Blocks blocks, Verdict verdict, ReportOptions options) {
        this.blocks = blocks;
        this.verdict = verdict;
        this.options = options;
    }

    void write() {
        facts();
        blocks.heading("Cautions");
        blocks.bullets(CAUTIONS);
        evidence();
        signOff();
    }

    private void facts() {
        blocks.heading("The machine as it reported itself");
        Map<String, Map<String, String>> facts = verdict.header().facts();
        if (facts.isEmpty()) {
            blocks.paragraph("The run log names no facts about the machine.");
        } else {
            PdfPTable table = blocks.table(17, 83);
            facts.forEach((group, named) -> {
                String shown = named.entrySet().stream()
                        .filter(e -> !withheld(group, e.getKey()))
                        .map(e -> e.getKey() + " " + Blocks.stated(e.getValue()))
                        .collect(Collectors.joining("; "));
                if (!shown.isEmpty()) {
                    table.addCell(blocks.label(group));
                    table.addCell(blocks.value(shown));
                }
            });
            blocks.add(table);
        }
        if (!verdict.header().withheld().isEmpty()) {
            blocks.quiet(
                    "Withheld on request: " + String.join(", ", verdict.header().withheld()) + ".");
        }
    }

    private boolean withheld(String group, String name) {
        return verdict.header().withheld().contains(group)
                || verdict.header().withheld().contains(name);
    }

    private void evidence() {
        blocks.heading("What this report rests on");
        PdfPTable table = blocks.table(22, 78);
        int number = 0;
        for (String digest : verdict.logSha256()) {
            number++;
            exact(
                    table,
                    verdict.logSha256().size() == 1 ? "Run log, SHA-256" : "Run log " + number + ", SHA-256",
                    digest);
        }
        if (verdict.logSha256().isEmpty()) {
            exact(table, "Run log, SHA-256", "not stated");
        }
        exact(table, "Last chain value", Blocks.stated(verdict.lastChain()));
        exact(table, "Procedure, SHA-256", verdict.header().procedure().sha256());
        exact(
                table,
                "Job sheet, SHA-256",
                verdict.header().jobSheet().map(Attachment::sha256).orElse("none in the run log"));
        for (EmbeddedFile file : options.embedded()) {
            table.addCell(blocks.label("Inside this file"));
            table.addCell(blocks.value(file.name() + ": " + file.description()
                    + String.format(Locale.ROOT, " (%,d bytes)", file.bytes().length)));
        }
        blocks.add(table);
        blocks.quiet(
                "The chain shows damage to the log; it proves nothing against whoever held the log before this"
                        + " report was signed. Clause 7.8 of ISO/IEC 17025:2017 served as a"
                        + " checklist of contents; conformity with that standard is not claimed. Please copy this report only whole.");
    }

    private void exact(PdfPTable table, String label, String value) {
        table.addCell(blocks.label(label));
        table.addCell(blocks.exact(value));
    }

    private void signOff() {
        PdfPTable outer = blocks.table(1);
        outer.setKeepTogether(true);
        outer.setSpacingBefore(16);
        PdfPTable table = blocks.table(46, 24, 30);
        Outcome outcome = Words.ofRun(verdict.outcome());
        table.addCell(blocks.across(
                padded(blocks.cell(
                        "Sign-off: " + Words.loud(outcome)
                                + (verdict.header().simulated() ? ", SIMULATED: not to be signed" : ""),
                        blocks.type.bold(10, Ink.TEXT))),
                3));
        table.addCell(line("Signature"));
        table.addCell(line("Date"));
        table.addCell(line("Technician: "
                + verdict.jobSheet()
                        .map(JobSheet::technician)
                        .filter(t -> !t.isBlank())
                        .orElse("not stated")));
        PdfPCell box = new PdfPCell(table);
        box.setBorder(Rectangle.BOX);
        box.setBorderColor(Ink.QUIET);
        box.setBorderWidth(0.8f);
        box.setPadding(8);
        outer.addCell(box);
        PdfPCell end = blocks.cell("End of report", blocks.type.regular(Blocks.SMALL, Ink.QUIET));
        end.setHorizontalAlignment(Element.ALIGN_CENTER);
        end.setPaddingTop(8);
        outer.addCell(end);
        blocks.add(outer);
    }

    private static PdfPCell padded(PdfPCell cell) {
        cell.setPaddingBottom(34);
        return cell;
    }

    private PdfPCell line(String under) {
        PdfPTable inner = blocks.table(1);
        PdfPCell cell = blocks.cell(under, blocks.type.regular(Blocks.SMALL, Ink.QUIET));
        cell.setBorder(Rectangle.TOP);
        cell.setBorderColor(Ink.TEXT);
        cell.setBorderWidth(0.7f);
        inner.addCell(cell);
        PdfPCell outer = new PdfPCell(inner);
        outer.setBorder(Rectangle.NO_BORDER);
        outer.setPaddingRight(10);
        return outer;
    }
}
