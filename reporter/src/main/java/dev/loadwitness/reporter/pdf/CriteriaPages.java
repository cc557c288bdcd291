// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Chunk;
import com.lowagie.text.Image;
import com.lowagie.text.Phrase;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.pdf.chart.Course;
import dev.loadwitness.reporter.pdf.paper.Blocks;
import dev.loadwitness.reporter.pdf.paper.Ink;
import dev.loadwitness.reporter.pdf.paper.Symbol;
import dev.loadwitness.reporter.verdict.Verdict;
import java.awt.Color;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.stream.Collectors;

/** Every criterion with its numbers, the statement of conformity, deviations, and the details that need a table. */
final class CriteriaPages {
    private final Blocks blocks;
    private final Verdict verdict;
    private final Course course;
    private final Facts facts;

    CriteriaPages(Blocks blocks, Verdict verdict, Course course, Facts facts) {
        this.blocks = blocks;
        this.verdict = verdict;
        this.course = course;
        this.facts = facts;
    }

    void write() {
        // Result and reason in a row of some height: a heading needs more room below it than elsewhere.
        blocks.heading(blocks.text("criteria.heading"), 140);
        if (verdict.findings().isEmpty()) {
            blocks.paragraph(blocks.text("criteria.none"));
        } else {
            blocks.paragraph(blocks.words.figures(verdict.sentence()), blocks.type.bold(Blocks.BODY, Ink.TEXT));
            table();
        }
        conformity();
        deviations();
        verdict.findings().stream().flatMap(f -> f.tables().stream()).forEach(this::details);
    }

    private void table() {
        PdfPTable table = blocks.columns(
                List.of(
                        "criteria.column.result",
                        "criteria.column.criterion",
                        "criteria.column.measured",
                        "criteria.column.limit",
                        "criteria.column.u",
                        "criteria.column.margin"),
                16,
                38,
                13,
                14,
                8,
                11);
        for (Finding finding : verdict.findings()) {
            table.addCell(result(finding));
            table.addCell(reason(finding));
            table.addCell(number(finding.measured(), blocks.text("open.not-measured")));
            table.addCell(limit(finding));
            table.addCell(number(finding.uncertainty(), "–"));
            table.addCell(margin(finding));
        }
        table.setSpacingAfter(4);
        blocks.add(table);
        blocks.quiet(blocks.text("criteria.note"));
    }

    /** What of a finding does not fit into a sentence. The last column of words gets the room. */
    private void details(Table details) {
        blocks.heading(capital(details.title()));
        int columns = details.columns().size();
        float[] shares = new float[columns];
        for (int i = 0; i < columns; i++) {
            int column = i;
            int longest = details.rows().stream()
                    .mapToInt(row -> row.get(column).length())
                    .max()
                    .orElse(1);
            shares[i] = Math.max(Math.max(longest, details.columns().get(i).length()), 8);
        }
        float others = 0;
        for (int i = 0; i < columns - 1; i++) {
            others += shares[i];
        }
        shares[columns - 1] = Math.min(shares[columns - 1], Math.max(3 * others, 8));
        PdfPTable table = blocks.table(shares);
        details.columns().forEach(head -> table.addCell(blocks.head(head)));
        table.setHeaderRows(1);
        details.rows().forEach(row -> row.forEach(cell -> table.addCell(blocks.value(glued(cell)))));
        table.setSpacingAfter(4);
        blocks.add(table);
    }

    private static String capital(String text) {
        return text.isEmpty() ? text : text.substring(0, 1).toUpperCase(Locale.ROOT) + text.substring(1);
    }

    private PdfPCell result(Finding finding) {
        Phrase phrase = new Phrase();
        Image sign = Symbol.of(
                blocks.writer.getDirectContent(), finding.outcome(), 7.6f, Ink.of(finding.outcome()), Color.WHITE);
        phrase.add(new Chunk(sign, 0, -1.2f));
        phrase.add(new Phrase(
                " " + blocks.words.loud(finding.outcome()), blocks.type.bold(7.2f, Ink.of(finding.outcome()))));
        if (!finding.mandatory()) {
            phrase.add(
                    new Phrase("\n" + blocks.text("criteria.advisory"), blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        }
        PdfPCell cell = blocks.underlined(blocks.cell(phrase, Blocks.BODY));
        cell.setPaddingLeft(3);
        return cell;
    }

    private PdfPCell reason(Finding finding) {
        Phrase phrase = new Phrase();
        phrase.add(new Phrase(finding.criterion().word(), blocks.type.bold(Blocks.BODY, Ink.TEXT)));
        if (!finding.subject().isBlank()) {
            phrase.add(new Phrase(
                    "  " + blocks.type.clean(finding.subject()), blocks.type.regular(Blocks.BODY, Ink.TEXT)));
        }
        phrase.add(new Phrase(
                "\n" + blocks.words.summary(finding.criterion()), blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        if (!finding.because().isBlank()) {
            phrase.add(new Phrase(
                    "\n" + blocks.type.clean(blocks.words.figures(finding.because())),
                    blocks.type.regular(8.2f, Ink.TEXT)));
        }
        for (Evidence evidence : finding.evidence()) {
            String where = evidence.at().isBlank() ? evidence.place() : evidence.place() + ", " + evidence.at();
            phrase.add(new Phrase(
                    "\n– " + blocks.type.clean(blocks.words.figures(where + ": " + evidence.text())),
                    blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        }
        return blocks.underlined(blocks.cell(phrase, 8.2f));
    }

    private PdfPCell number(String text, String otherwise) {
        return blocks.underlined(blocks.cell(
                text.isBlank() ? otherwise : glued(text),
                blocks.type.regular(8.2f, text.isBlank() ? Ink.QUIET : Ink.TEXT)));
    }

    /** In narrow cells no line ends between a number and its unit. */
    private String glued(String text) {
        return blocks.words.figures(text).replaceAll("(?<=\\d) (?=[%°A-Za-z])", "\u00A0");
    }

    private PdfPCell limit(Finding finding) {
        Phrase phrase = new Phrase();
        phrase.add(new Phrase(
                finding.limit().isBlank() ? "–" : blocks.type.clean(glued(finding.limit())),
                blocks.type.regular(8.2f, Ink.TEXT)));
        if (!finding.limitOrigin().isBlank()) {
            phrase.add(new Phrase(
                    "\n" + blocks.type.clean(blocks.words.figures(finding.limitOrigin())),
                    blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        }
        return blocks.underlined(blocks.cell(phrase, 8.2f));
    }

    private PdfPCell margin(Finding finding) {
        Phrase phrase = new Phrase();
        phrase.add(new Phrase(
                finding.margin().isBlank() ? "–" : blocks.type.clean(glued(finding.margin())),
                blocks.type.regular(8.2f, Ink.TEXT)));
        if (finding.conformity().isPresent()) {
            phrase.add(new Phrase(
                    "\n"
                            + blocks.text(
                                    "criteria.probability",
                                    blocks.words.figures(
                                            percent(finding.conformity().getAsDouble()))),
                    blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        }
        return blocks.underlined(blocks.cell(phrase, 8.2f));
    }

    /** Never rounded up to certainty, nor down to impossibility. */
    private static String percent(double probability) {
        if (probability > 0.999) {
            return ">\u00A099.9\u00A0%";
        }
        if (probability < 0.001) {
            return "<\u00A00.1\u00A0%";
        }
        return String.format(Locale.ROOT, "=\u00A0%.1f\u00A0%%", probability * 100);
    }

    private void conformity() {
        blocks.heading(blocks.text("conformity.heading"));
        List<String> sentences = new ArrayList<>();
        for (Outcome outcome : Outcome.values()) {
            String ids = verdict.findings().stream()
                    .filter(f -> f.outcome() == outcome)
                    .map(f -> f.criterion().word() + (f.subject().isBlank() ? "" : " (" + f.subject() + ")"))
                    .distinct()
                    .collect(Collectors.joining(", "));
            if (!ids.isEmpty()) {
                sentences.add(blocks.text("conformity." + outcome.word(), ids));
            }
        }
        double factor = verdict.procedure().decision().guardFactor();
        sentences.add(
                factor == 0
                        ? blocks.text("conformity.rule.simple")
                        : blocks.text("conformity.rule.guarded", blocks.words.number(factor, "")));
        sentences.add(blocks.text("conformity.rule.run"));
        sentences.add(blocks.text(facts.isNamed() ? "conformity.relates" : "conformity.relates.unnamed"));
        blocks.bullets(sentences);
    }

    /** Additions to, deviations from and exclusions from the procedure (ISO/IEC 17025:2017, 7.8.2.1 n). */
    private void deviations() {
        blocks.heading(blocks.text("deviations.heading"));
        List<String> known = new ArrayList<>();
        if (!verdict.ownProcedure()) {
            known.add(blocks.text("deviations.other"));
        }
        course.stages().stream()
                .filter(s -> !s.end().equals("completed"))
                .forEach(s -> known.add(blocks.text("deviations.stage", s.stage(), s.end())));
        verdict.jobSheet().stream()
                .flatMap(j -> j.notApplicable().entrySet().stream())
                .map(e -> e.getKey().word() + " (" + e.getValue() + ")")
                .sorted()
                .forEach(e -> known.add(blocks.text("deviations.not-applicable", e)));
        if (!verdict.header().withheld().isEmpty()) {
            known.add(blocks.text(
                    "deviations.withheld", String.join(", ", verdict.header().withheld())));
        }
        if (known.isEmpty()) {
            known.add(blocks.text("deviations.none"));
        }
        blocks.bullets(known);
        if (!verdict.notes().isEmpty()) {
            blocks.heading(blocks.text("notes.heading"));
            blocks.bullets(verdict.notes().stream().map(blocks.words::figures).toList());
        }
    }
}
