// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.criteria.Evidence;
import dev.loadwitness.reporter.criteria.Finding;
import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.reporter.criteria.Table;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/** The verdict on a terminal: the one sentence first, the outcome in words, then everything it rests on. */
public final class VerdictText {
    public static final int DEFAULT_WIDTH = 80;

    /** Columns of the table at 80: result, criterion, measured, limit, uncertainty, margin. */
    private static final int[] COLUMNS = {12, 19, 11, 13, 7, 8};

    /** How each hundred columns beyond 80 are shared out. */
    private static final int[] SHARES = {2, 32, 20, 26, 6, 14};

    private static final int NARROWEST = 30;

    private static final int LEAST_LAST_COLUMN = 12;

    private final int width;
    private final boolean colour;
    private final StringBuilder out = new StringBuilder();

    private VerdictText(int width, boolean colour) {
        this.width = Math.max(width, NARROWEST);
        this.colour = colour;
    }

    /**
     * The whole verdict, lines ended by line feeds.
     *
     * @param width columns of the terminal; below 80 the table becomes a list, below 30 it is laid out for 30
     * @param colour whether to colour the outcomes' words; they say the same without
     */
    public static String render(Verdict verdict, int width, boolean colour) {
        VerdictText text = new VerdictText(width, colour);
        text.write(verdict);
        return text.out.toString();
    }

    private void write(Verdict verdict) {
        lines("", verdict.sentence());
        out.append('\n');
        outcome(verdict);
        about(verdict);
        findings(verdict.findings());
        tables(verdict.findings());
        list("Attempts on this ticket", verdict.attempts().stream().map(VerdictText::attempt));
        list("Demonstrated", verdict.demonstrated().stream());
        list("Notes", verdict.notes().stream());
        title("Log");
        for (String digest : verdict.logSha256()) {
            lines("  ", "SHA-256 " + digest);
        }
        lines("  ", "last chain value " + verdict.lastChain());
        lines("  ", "judged by method " + verdict.methodVersion());
    }

    private void outcome(Verdict verdict) {
        boolean decided = verdict.outcome() == Outcome.PASS || verdict.outcome() == Outcome.FAIL;
        Outcome shown = decided ? verdict.outcome() : Outcome.INCONCLUSIVE;
        String word = loud(shown);
        String open = verdict.findings().stream()
                .filter(f -> f.mandatory() && f.outcome() != Outcome.PASS && f.outcome() != Outcome.NOT_APPLICABLE)
                .map(f -> f.criterion().word() + " " + loud(f.outcome()).toLowerCase(Locale.ROOT))
                .distinct()
                .collect(Collectors.joining(", "));
        String said =
                switch (shown) {
                    case PASS -> "the run passed";
                    case FAIL -> "the run failed";
                    default -> "the run neither passed nor failed";
                };
        List<String> lines = Wrap.lines(word + ": " + said + (open.isEmpty() ? "." : " (" + open + ")."), width);
        out.append(painted(word, shown))
                .append(lines.get(0).substring(word.length()))
                .append('\n');
        lines.subList(1, lines.size()).forEach(line -> out.append(line).append('\n'));
        if (verdict.header().simulated()) {
            lines("", "SIMULATED: no machine was measured.");
        }
    }

    private void about(Verdict verdict) {
        String machine = verdict.jobSheet()
                .map(JobSheet::machine)
                .map(m ->
                        Stream.of(m.make(), m.model()).filter(s -> !s.isBlank()).collect(Collectors.joining(" ")))
                .orElse("");
        out.append('\n');
        lines(
                "",
                Stream.of(
                                machine,
                                verdict.header().ticket().isBlank()
                                        ? ""
                                        : "ticket " + verdict.header().ticket(),
                                "run " + verdict.header().runId(),
                                "procedure " + verdict.procedure().name()
                                        + (verdict.ownProcedure() ? "" : " (not the one that the run began with)"))
                        .filter(s -> !s.isBlank())
                        .collect(Collectors.joining(" · ")));
    }

    private void findings(List<Finding> findings) {
        title("Findings");
        if (findings.isEmpty()) {
            lines("  ", "No criterion was judged.");
        } else if (width < DEFAULT_WIDTH) {
            findings.forEach(this::stacked);
        } else {
            table(findings);
        }
    }

    private void table(List<Finding> findings) {
        int[] columns = COLUMNS.clone();
        int extra = width - DEFAULT_WIDTH;
        for (int i = 0; i < columns.length; i++) {
            columns[i] += extra * SHARES[i] / 100;
        }
        int indent = columns[0] + 2;
        row(columns, List.of("RESULT", "CRITERION", "MEASURED", "LIMIT", "U (k=2)", "MARGIN"), null);
        for (Finding finding : findings) {
            row(
                    columns,
                    List.of(
                            loud(finding.outcome()),
                            finding.criterion().word(),
                            dash(finding.measured()),
                            dash(finding.limit()),
                            dash(finding.uncertainty()),
                            dash(finding.margin())),
                    finding.outcome());
            details(finding, " ".repeat(indent));
        }
    }

    private void row(int[] columns, List<String> cells, Outcome outcome) {
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
                row.append(i == 0 && outcome != null && !text.isEmpty() ? painted(text, outcome) : text)
                        .append(padding);
            }
            out.append(row.toString().stripTrailing()).append('\n');
        }
    }

    private void details(Finding finding, String indent) {
        String origin = finding.limitOrigin().isBlank() ? "" : "limit from: " + finding.limitOrigin();
        String about = Stream.of(finding.subject(), finding.mandatory() ? "" : "advisory", origin, conformity(finding))
                .filter(s -> !s.isBlank())
                .collect(Collectors.joining(" · "));
        if (!about.isEmpty()) {
            lines(indent, about);
        }
        if (!finding.because().isBlank()) {
            lines(indent, finding.because());
        }
        for (Evidence evidence : finding.evidence()) {
            hanging(
                    indent,
                    evidence.place() + (evidence.at().isBlank() ? "" : ", " + evidence.at()) + ": " + evidence.text());
        }
    }

    /** After the findings: tables are wider than the column in which a finding is told. */
    private void tables(List<Finding> findings) {
        findings.stream().flatMap(f -> f.tables().stream()).forEach(raw -> {
            Table table = cleaned(raw);
            out.append('\n');
            lines("", table.title());
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
            if (width - taken >= LEAST_LAST_COLUMN) {
                widths[last] = Math.min(widths[last], width - taken);
                tableRow(widths, table.columns());
                table.rows().forEach(row -> tableRow(widths, row));
            } else {
                table.rows().forEach(row -> hanging("  ", String.join(", ", row)));
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
            out.append(((i == 0 ? lead : indent) + wrapped.get(i)).stripTrailing())
                    .append('\n');
        }
    }

    private void stacked(Finding finding) {
        out.append(painted(loud(finding.outcome()), finding.outcome())).append('\n');
        lines("  ", finding.criterion().word());
        lines("  ", "measured: " + dash(finding.measured()));
        lines("  ", "limit: " + dash(finding.limit()));
        lines("  ", "U (k=2): " + dash(finding.uncertainty()));
        lines("  ", "margin: " + dash(finding.margin()));
        details(finding, "  ");
    }

    /** Never rounded up to certainty, nor down to impossibility. */
    private static String conformity(Finding finding) {
        if (finding.conformity().isEmpty()) {
            return "";
        }
        double p = finding.conformity().getAsDouble();
        return p > 0.999
                ? "met with P > 99.9 %"
                : p < 0.001 ? "met with P < 0.1 %" : String.format(Locale.ROOT, "met with P = %.1f %%", p * 100);
    }

    private static String attempt(Verdict.Attempt attempt) {
        return attempt.number() + ": run " + attempt.runId() + ": " + attempt.summary()
                + (attempt.shown() ? "" : " (its log was not read here)");
    }

    private void list(String title, Stream<String> texts) {
        List<String> all = texts.toList();
        if (!all.isEmpty()) {
            title(title);
            all.forEach(text -> hanging("  ", text));
        }
    }

    private void hanging(String indent, String text) {
        String lead = "- ";
        for (String line : Wrap.lines(text, width - indent.length() - 2)) {
            out.append((indent + lead + line).stripTrailing()).append('\n');
            lead = "  ";
        }
    }

    private void title(String text) {
        out.append('\n').append(text).append('\n');
    }

    private void lines(String indent, String text) {
        for (String line : Wrap.lines(text, width - indent.length())) {
            out.append((indent + line).stripTrailing()).append('\n');
        }
    }

    private static String dash(String text) {
        return text.isBlank() ? "-" : text;
    }

    private static String loud(Outcome outcome) {
        return outcome.word().toUpperCase(Locale.ROOT).replace('-', ' ');
    }

    private String painted(String text, Outcome outcome) {
        if (!colour) {
            return text;
        }
        String code =
                switch (outcome) {
                    case PASS -> "1;32";
                    case FAIL -> "1;31";
                    case INCONCLUSIVE, NOT_MEASURED -> "1;33";
                    case NOT_APPLICABLE -> "2";
                };
        return "\u001B[" + code + "m" + text + "\u001B[0m";
    }
}
