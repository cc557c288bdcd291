// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import com.lowagie.text.Phrase;
import com.lowagie.text.pdf.PdfPCell;
import com.lowagie.text.pdf.PdfPTable;
import dev.loadwitness.reporter.criteria.Evidence;
import dev.loadwitness.reporter.criteria.Finding;
import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.reporter.criteria.Table;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.OptionalDouble;
import java.util.stream.Collectors;

/** Every criterion with its numbers, the statement of conformity, and what all this shows and does not show. */
final class CriteriaPages {
    private final Blocks blocks;
    private final Verdict verdict;

    CriteriaPages(Blocks blocks, Verdict verdict) {
        this.blocks = blocks;
        this.verdict = verdict;
    }

    void write() {
        blocks.newPage();
        blocks.heading("Criteria");
        if (verdict.findings().isEmpty()) {
            blocks.paragraph("No criterion was judged.");
        } else {
            table();
        }
        verdict.findings().stream().flatMap(f -> f.tables().stream()).forEach(this::details);
        conformity();
        if (!verdict.notes().isEmpty()) {
            blocks.heading("Notes");
            blocks.bullets(verdict.notes());
        }
        blocks.heading("What software cannot see");
        blocks.paragraph("The following was not measured by this run and is not covered by its outcome: the current and"
                + " the temperature of each power phase; gate timing and shoot-through; ripple; voltage dips shorter"
                + " than the sampling period; the soundness of solder joints; whether a part is genuine; the wear of"
                + " connectors; and the temperature of graphics memory, unless it is listed among the criteria or in"
                + " the charts.");
        handwork();
    }

    private void table() {
        PdfPTable table = blocks.table(15, 37, 13, 15, 9, 11);
        for (String head : List.of(
                "Result", "Criterion, reason, evidence", "Measured", "Limit and origin", "U (k = 2)", "Margin")) {
            table.addCell(blocks.head(head));
        }
        table.setHeaderRows(1);
        for (Finding finding : verdict.findings()) {
            table.addCell(result(finding));
            table.addCell(reason(finding));
            table.addCell(number(finding.measured(), "not measured"));
            table.addCell(limit(finding));
            table.addCell(number(finding.uncertainty(), "–"));
            table.addCell(margin(finding));
        }
        table.setSpacingAfter(4);
        blocks.add(table);
        blocks.quiet(
                "U is the expanded uncertainty with coverage factor k = 2. A margin is positive on the good side of"
                        + " the limit. P is the probability that the true value meets it. Times are minutes and seconds since the start of the stretch between restarts; lines are"
                        + " lines of the run log. Advisory criteria are printed and never decide.");
    }

    /** What of a finding does not fit into a sentence. The last column of words gets the room. */
    private void details(Table details) {
        blocks.heading(details.title());
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
        details.rows().forEach(row -> row.forEach(cell -> table.addCell(blocks.value(cell))));
        table.setSpacingAfter(4);
        blocks.add(table);
    }

    private PdfPCell result(Finding finding) {
        Phrase phrase = new Phrase();
        phrase.add(new Phrase(Words.loud(finding.outcome()), blocks.type.bold(8.2f, Ink.of(finding.outcome()))));
        if (!finding.mandatory()) {
            phrase.add(new Phrase("\nadvisory", blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
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
        phrase.add(new Phrase("\n" + finding.criterion().summary(), blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        if (!finding.because().isBlank()) {
            phrase.add(new Phrase("\n" + blocks.type.clean(finding.because()), blocks.type.regular(8.2f, Ink.TEXT)));
        }
        for (Evidence evidence : finding.evidence()) {
            String where = evidence.at().isBlank() ? evidence.place() : evidence.place() + ", " + evidence.at();
            phrase.add(new Phrase(
                    "\n– " + blocks.type.clean(where + ": " + evidence.text()),
                    blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        }
        return blocks.underlined(blocks.cell(phrase, 8.2f));
    }

    private PdfPCell number(String text, String otherwise) {
        return blocks.underlined(blocks.cell(
                text.isBlank() ? otherwise : text, blocks.type.regular(8.2f, text.isBlank() ? Ink.QUIET : Ink.TEXT)));
    }

    private PdfPCell limit(Finding finding) {
        Phrase phrase = new Phrase();
        phrase.add(new Phrase(
                finding.limit().isBlank() ? "–" : blocks.type.clean(finding.limit()),
                blocks.type.regular(8.2f, Ink.TEXT)));
        if (!finding.limitOrigin().isBlank()) {
            phrase.add(new Phrase(
                    "\n" + blocks.type.clean(finding.limitOrigin()), blocks.type.regular(Blocks.SMALL, Ink.QUIET)));
        }
        return blocks.underlined(blocks.cell(phrase, 8.2f));
    }

    private PdfPCell margin(Finding finding) {
        Phrase phrase = new Phrase();
        phrase.add(new Phrase(
                finding.margin().isBlank() ? "–" : blocks.type.clean(finding.margin()),
                blocks.type.regular(8.2f, Ink.TEXT)));
        if (finding.conformity().isPresent()) {
            phrase.add(new Phrase(
                    "\nP " + percent(finding.conformity().getAsDouble()),
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
        blocks.heading("Statement of conformity");
        List<String> sentences = new ArrayList<>();
        for (Outcome outcome : Outcome.values()) {
            String ids = verdict.findings().stream()
                    .filter(f -> f.outcome() == outcome)
                    .map(f -> f.criterion().word() + (f.subject().isBlank() ? "" : " (" + f.subject() + ")"))
                    .distinct()
                    .collect(Collectors.joining(", "));
            if (!ids.isEmpty()) {
                sentences.add(switch (outcome) {
                            case PASS -> "Met: ";
                            case FAIL -> "Not met: ";
                            case INCONCLUSIVE -> "Measured, but not decided: ";
                            case NOT_MEASURED -> "Not measured, therefore not passed: ";
                            case NOT_APPLICABLE -> "Declared not applicable: ";
                        }
                        + ids
                        + ".");
            }
        }
        double factor = verdict.procedure().decision().guardFactor();
        sentences.add(
                factor == 0
                        ? "Decision rule: simple acceptance; a reading at the limit or on its good side meets it. The"
                                + " risk of a false acceptance near the limit can reach one half."
                        : "Decision rule: guard-banded. A limit is met, or missed, only by more than "
                                + Words.number(factor, "")
                                + " times the expanded uncertainty U; what lies nearer is inconclusive (rule after JCGM"
                                + " 106:2012).");
        sentences.add("The run fails if any mandatory criterion is not met; otherwise it is inconclusive if a mandatory"
                + " one is undecided or not measured; otherwise it passes.");
        sentences.add("The results relate only to the machine named on page 1, in the state in which it was tested, and"
                + " to this run.");
        blocks.bullets(sentences);
    }

    /** Rails and hand checks: measured by a person, so kept apart from what the program measured. */
    private void handwork() {
        if (verdict.jobSheet().isEmpty()) {
            return;
        }
        JobSheet job = verdict.jobSheet().get();
        if (!job.rails().isEmpty()) {
            blocks.heading("Rails, measured by hand [t]");
            PdfPTable table = blocks.table(36, 17, 17, 15, 15);
            for (String head : List.of("Rail", "To ground before", "To ground after", "Voltage after", "State")) {
                table.addCell(blocks.head(head));
            }
            table.setHeaderRows(1);
            for (JobSheet.Rail rail : job.rails()) {
                table.addCell(blocks.value(rail.name()));
                table.addCell(blocks.value(number(rail.ohmsBefore(), "Ω")));
                table.addCell(blocks.value(number(rail.ohmsAfter(), "Ω")));
                table.addCell(blocks.value(number(rail.voltsAfter(), "V")));
                table.addCell(blocks.value(Blocks.stated(rail.state())));
            }
            blocks.add(table);
        }
        if (!job.handChecks().isEmpty()) {
            blocks.heading("Checks by hand [t]");
            PdfPTable table = blocks.table(14, 40, 46);
            for (JobSheet.HandCheck check : job.handChecks()) {
                table.addCell(blocks.value(check.done() ? "done" : "not done"));
                table.addCell(blocks.value(check.name()));
                table.addCell(blocks.value(check.note()));
            }
            blocks.add(table);
        }
        if (!job.notApplicable().isEmpty()) {
            blocks.heading("Declared not applicable [t]");
            blocks.bullets(job.notApplicable().entrySet().stream()
                    .map(e -> e.getKey().word() + ": " + e.getValue())
                    .sorted()
                    .toList());
        }
    }

    private static String number(OptionalDouble value, String unit) {
        return Words.number(value, unit);
    }
}
