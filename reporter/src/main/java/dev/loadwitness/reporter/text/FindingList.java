// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Risk;
import dev.loadwitness.reporter.finding.Table;
import java.util.ArrayList;
import java.util.List;
import java.util.stream.Collectors;
import java.util.stream.Stream;
import org.jspecify.annotations.Nullable;

/** Every finding with all that it rests on: a table where the terminal is wide enough, else a list. */
final class FindingList {
    /** Columns of the table at 80: result, criterion, measured, limit, uncertainty, margin. */
    private static final int[] COLUMNS = {12, 19, 11, 13, 7, 8};

    /** How each hundred columns beyond 80 are shared out. */
    private static final int[] SHARES = {2, 32, 20, 26, 6, 14};

    private static final int LEAST_LAST_COLUMN = 12;

    private final TextPage out;

    FindingList(TextPage out) {
        this.out = out;
    }

    void write(List<Finding> findings) {
        out.title("Findings");
        if (findings.isEmpty()) {
            out.lines("  ", "No criterion was judged.");
        } else if (out.width() < VerdictText.DEFAULT_WIDTH) {
            findings.forEach(this::stacked);
        } else {
            table(findings);
        }
    }

    private void table(List<Finding> findings) {
        int[] columns = COLUMNS.clone();
        int extra = out.width() - VerdictText.DEFAULT_WIDTH;
        for (int i = 0; i < columns.length; i++) {
            columns[i] += extra * SHARES[i] / 100;
        }
        int indent = columns[0] + 2;
        row(columns, List.of("RESULT", "CRITERION", "MEASURED", "LIMIT", "U (k=2)", "MARGIN"), null);
        for (Finding finding : findings) {
            row(
                    columns,
                    List.of(
                            TextPage.loud(finding.outcome()),
                            finding.criterion().word(),
                            dash(finding.measured()),
                            dash(finding.limit()),
                            dash(finding.uncertainty()),
                            dash(finding.margin())),
                    finding.outcome());
            details(finding, " ".repeat(indent));
        }
    }

    private void row(int[] columns, List<String> cells, @Nullable Outcome outcome) {
        List<List<String>> wrapped = new ArrayList<>();
        int height = 0;
        for (int i = 0; i < columns.length; i++) {
            wrapped.add(Wrap.lines(cells.get(i), columns[i]));
            height = Math.max(height, wrapped.get(i).size());
        }
        for (int line = 0; line < height; line++) {
            StringBuilder row = new StringBuilder();
            for (int i = 0; i < columns.length; i++) {
                String text = line < wrapped.get(i).size() ? wrapped.get(i).get(line) : "";
                String padding = " ".repeat(columns[i] - Wrap.columns(text) + (i < columns.length - 1 ? 2 : 0));
                row.append(i == 0 && outcome != null && !text.isEmpty() ? out.painted(text, outcome) : text)
                        .append(padding);
            }
            out.line(row.toString());
        }
    }

    private void details(Finding finding, String indent) {
        String origin = finding.limitOrigin().isBlank() ? "" : "limit from: " + finding.limitOrigin();
        String about = Stream.of(finding.subject(), finding.mandatory() ? "" : "advisory", origin, conformity(finding))
                .filter(s -> !s.isBlank())
                .collect(Collectors.joining(" · "));
        if (!about.isEmpty()) {
            out.lines(indent, about);
        }
        if (!finding.because().isBlank()) {
            out.lines(indent, finding.because());
        }
        for (Evidence evidence : finding.evidence()) {
            out.hanging(
                    indent,
                    evidence.place() + (evidence.at().isBlank() ? "" : ", " + evidence.at()) + ": " + evidence.text());
        }
    }

    private void stacked(Finding finding) {
        out.line(out.painted(TextPage.loud(finding.outcome()), finding.outcome()));
        out.lines("  ", finding.criterion().word());
        out.lines("  ", "measured: " + dash(finding.measured()));
        out.lines("  ", "limit: " + dash(finding.limit()));
        out.lines("  ", "U (k=2): " + dash(finding.uncertainty()));
        out.lines("  ", "margin: " + dash(finding.margin()));
        details(finding, "  ");
    }

    /** After the findings: tables are wider than the column in which a finding is told. */
    void tables(List<Finding> findings) {
        findings.stream().flatMap(f -> f.tables().stream()).forEach(raw -> {
            Table table = cleaned(raw);
            out.line("");
            out.lines("", table.title());
            int[] widths = new int[table.columns().size()];
            for (int i = 0; i < widths.length; i++) {
                widths[i] = Wrap.columns(table.columns().get(i));
                for (List<String> row : table.rows()) {
                    widths[i] = Math.max(widths[i], Wrap.columns(row.get(i)));
                }
            }
            // The last column takes what is left, and wraps.
            int taken = 2;
            for (int i = 0; i < widths.length - 1; i++) {
                taken += widths[i] + 2;
            }
            int last = widths.length - 1;
            if (out.width() - taken >= LEAST_LAST_COLUMN) {
                widths[last] = Math.min(widths[last], out.width() - taken);
                tableRow(widths, table.columns());
                table.rows().forEach(row -> tableRow(widths, row));
            } else {
                table.rows().forEach(row -> out.hanging("  ", String.join(", ", row)));
            }
        });
    }

    private static Table cleaned(Table raw) {
        return new Table(
                Wrap.clean(raw.title()),
                raw.columns().stream().map(Wrap::clean).toList(),
                raw.rows().stream()
                        .map(row -> row.stream().map(Wrap::clean).toList())
                        .toList());
    }

    private void tableRow(int[] widths, List<String> cells) {
        List<String> wrapped = Wrap.lines(cells.get(cells.size() - 1), widths[widths.length - 1]);
        StringBuilder lead = new StringBuilder("  ");
        for (int i = 0; i < widths.length - 1; i++) {
            lead.append(cells.get(i)).append(" ".repeat(widths[i] - Wrap.columns(cells.get(i)) + 2));
        }
        String indent = " ".repeat(Wrap.columns(lead.toString()));
        for (int i = 0; i < wrapped.size(); i++) {
            out.line((i == 0 ? lead : indent) + wrapped.get(i));
        }
    }

    private static String conformity(Finding finding) {
        return finding.conformity().isEmpty()
                ? ""
                : "limit met with a probability "
                        + ofProbability(finding.conformity().getAsDouble());
    }

    static String ofProbability(double probability) {
        String percent = Risk.percent(probability);
        return Character.isDigit(percent.charAt(0)) ? "of " + percent : percent;
    }

    private static String dash(String text) {
        return text.isBlank() ? "-" : text;
    }
}
