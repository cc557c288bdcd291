// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Risk;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
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

    /** Lines of the first screen: those of the smallest terminal that anyone has. */
    static final int SCREEN_LINES = 24;

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

    /**
     * The verdict on one screen: what happened, then by how much, then how sure that is. What does not fit is counted, not hidden.
     */
    public static String screen(Verdict verdict, int width, boolean colour) {
        VerdictText text = new VerdictText(width, colour);
        text.writeScreen(verdict);
        return text.out.toString();
    }

    private void writeScreen(Verdict verdict) {
        lines("", verdict.sentence());
        out.append('\n');
        outcome(verdict, false);
        String about = about(verdict, "");
        String more = "Every criterion with limit, evidence and uncertainty: judge --all";
        int used = (int) out.chars().filter(c -> c == '\n').count();
        int room = SCREEN_LINES
                - used
                - 1
                - Wrap.lines(about, width).size()
                - Wrap.lines(more, width).size();
        room -= section("By how much", extent(verdict), room);
        section("How sure", sure(verdict), room);
        out.append('\n');
        lines("", about);
        lines("", more);
    }

    /** Writes as many whole entries as fit, and says how many do not. Gives the lines used: none where not even one fits. */
    private int section(String title, List<List<String>> entries, int room) {
        int heading = 2;
        int all = entries.stream().mapToInt(List::size).sum();
        int left = room - heading - (all > room - heading ? 1 : 0);
        if (entries.isEmpty() || left < entries.get(0).size()) {
            return 0;
        }
        title(title);
        int shown = 0;
        int lines = heading;
        for (List<String> entry : entries) {
            if (entry.size() > left) {
                break;
            }
            entry.forEach(line -> out.append(line).append('\n'));
            left -= entry.size();
            lines += entry.size();
            shown++;
        }
        if (shown < entries.size()) {
            out.append("  … and ").append(entries.size() - shown).append(" more\n");
            lines++;
        }
        return lines;
    }

    /** What did not pass with its number and limit, in the order of their weight, then the names of what did. */
    private List<List<String>> extent(Verdict verdict) {
        List<List<String>> extent = new ArrayList<>();
        Map<String, List<Finding>> alike = Stream.of(Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.NOT_MEASURED)
                .flatMap(o -> Stream.of(true, false)
                        .flatMap(mandatory -> verdict.findings().stream()
                                .filter(f -> f.outcome() == o && f.mandatory() == mandatory)))
                .collect(Collectors.groupingBy(
                        f -> f.outcome() + " " + f.mandatory() + " " + firstSentence(f.because()),
                        LinkedHashMap::new,
                        Collectors.toList()));
        alike.values().forEach(findings -> extent.add(entry(findings, verdict.sentence())));
        boolean onePart = verdict.findings().stream()
                        .map(Finding::subject)
                        .filter(s -> !s.isBlank())
                        .distinct()
                        .count()
                == 1;
        for (Outcome o : List.of(Outcome.PASS, Outcome.NOT_APPLICABLE)) {
            String names = verdict.findings().stream()
                    .filter(f -> f.outcome() == o)
                    .map(f -> onePart ? f.criterion().word() : name(f))
                    .collect(Collectors.joining(", "));
            if (!names.isEmpty()) {
                extent.add(entry((o == Outcome.PASS ? "passed" : "not applicable") + ": " + names));
            }
        }
        return extent;
    }

    /** Findings that say the same of themselves are told together. */
    private List<String> entry(List<Finding> alike, String sentence) {
        Finding f = alike.get(0);
        String names = alike.stream().map(VerdictText::name).collect(Collectors.joining(", "));
        String what = loud(f.outcome()) + (f.mandatory() ? "" : " (advisory)") + "  " + names;
        String numbers = Stream.of(
                        f.measured(),
                        f.limit().isBlank() ? "" : "limit " + f.limit(),
                        f.margin().isBlank() ? "" : "margin " + f.margin())
                .filter(s -> !s.isBlank())
                .collect(Collectors.joining("; "));
        List<String> entry =
                new ArrayList<>(entry(alike.size() > 1 || f.measured().isBlank() ? what : what + ": " + numbers));
        if (!sentence.contains(f.because())) {
            // What would settle a value near its limit comes after the first sentence.
            boolean near = f.outcome() == Outcome.INCONCLUSIVE && f.conformity().isPresent();
            String because =
                    (near && !f.doubted() ? f.because() : firstSentence(f.because())).replaceAll(" \\([^()]*\\)", "");
            Wrap.lines(because, width - 4).forEach(line -> entry.add("    " + line));
        }
        // Painted after wrapping: the codes of a colour take no columns.
        String word = loud(f.outcome());
        if (entry.get(0).startsWith("  " + word)) {
            entry.set(0, "  " + painted(word, f.outcome()) + entry.get(0).substring(2 + word.length()));
        }
        return entry;
    }

    private List<String> entry(String text) {
        List<String> entry = new ArrayList<>();
        Wrap.lines(text, width - 4).forEach(line -> entry.add((entry.isEmpty() ? "  " : "    ") + line));
        return entry;
    }

    private static String firstSentence(String text) {
        int end = text.indexOf(". ");
        return end < 0 ? text : text.substring(0, end + 1);
    }

    private static String name(Finding f) {
        return f.criterion().word() + (f.subject().isBlank() ? "" : " (" + f.subject() + ")");
    }

    /** Uncertainty and probability of every finding that has them, those least sure first; then what all attempts show. */
    private List<List<String>> sure(Verdict verdict) {
        List<List<String>> sure = new ArrayList<>();
        verdict.findings().stream()
                // Of what was not relied on, nothing is sure.
                .filter(f -> f.outcome() != Outcome.NOT_MEASURED && !f.doubted())
                .filter(f -> f.conformity().isPresent() && !f.uncertainty().isBlank())
                .sorted(Comparator.comparingDouble(f -> -Math.min(
                        f.conformity().getAsDouble(), 1 - f.conformity().getAsDouble())))
                .forEach(f -> sure.add(entry(name(f) + ": " + f.measured() + " ± " + f.uncertainty()
                        + ", limit met with a probability "
                        + ofProbability(f.conformity().getAsDouble()))));
        verdict.demonstrated().forEach(d -> sure.add(entry(d)));
        return sure;
    }

    private static String ofProbability(double probability) {
        String percent = Risk.percent(probability);
        return Character.isDigit(percent.charAt(0)) ? "of " + percent : percent;
    }

    private void write(Verdict verdict) {
        lines("", verdict.sentence());
        out.append('\n');
        outcome(verdict, true);
        out.append('\n');
        lines("", about(verdict, "run " + verdict.header().runId()));
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

    private void outcome(Verdict verdict, boolean named) {
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
        List<String> lines =
                Wrap.lines(word + ": " + said + (open.isEmpty() || !named ? "." : " (" + open + ")."), width);
        out.append(painted(word, shown))
                .append(lines.get(0).substring(word.length()))
                .append('\n');
        lines.subList(1, lines.size()).forEach(line -> out.append(line).append('\n'));
        if (verdict.header().simulated()) {
            lines("", "SIMULATED: no machine was measured.");
        }
    }

    private static String about(Verdict verdict, String run) {
        String machine = verdict.jobSheet()
                .map(JobSheet::machine)
                .map(m ->
                        Stream.of(m.make(), m.model()).filter(s -> !s.isBlank()).collect(Collectors.joining(" ")))
                .orElse("");
        return Stream.of(
                        machine,
                        verdict.header().ticket().isBlank()
                                ? ""
                                : "ticket " + verdict.header().ticket(),
                        run,
                        "procedure " + verdict.procedure().name()
                                + (verdict.ownProcedure() ? "" : " (not the one that the run began with)"))
                .filter(s -> !s.isBlank())
                .collect(Collectors.joining(" · "));
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

    private static String conformity(Finding finding) {
        return finding.conformity().isEmpty()
                ? ""
                : "limit met with a probability "
                        + ofProbability(finding.conformity().getAsDouble());
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
