// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.verdict.Verdict;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/** What a person sees of a verdict without scrolling: by how much, then how sure that is, as far as there is room. */
final class FirstScreen {
    /** Those of the smallest terminal that anyone has. */
    private static final int LINES = 24;

    private final TextPage out;

    private FirstScreen(TextPage out) {
        this.out = out;
    }

    /** After the sentence and the outcome; ends with these two texts. */
    static void write(TextPage out, Verdict verdict, String about, String more) {
        int room = LINES
                - out.height()
                - 1
                - Wrap.lines(about, out.width()).size()
                - Wrap.lines(more, out.width()).size();
        FirstScreen screen = new FirstScreen(out);
        room -= screen.section("By how much", screen.extent(verdict), room);
        screen.section("How sure", screen.sure(verdict), room);
        out.line("");
        out.lines("", about);
        out.lines("", more);
    }

    /** Writes as many whole entries as fit, and says how many do not. Gives the lines used: none where not even one fits. */
    private int section(String title, List<List<String>> entries, int room) {
        int heading = 2;
        int all = entries.stream().mapToInt(List::size).sum();
        int left = room - heading - (all > room - heading ? 1 : 0);
        if (entries.isEmpty() || left < entries.get(0).size()) {
            return 0;
        }
        out.title(title);
        int shown = 0;
        int lines = heading;
        for (List<String> entry : entries) {
            if (entry.size() > left) {
                break;
            }
            entry.forEach(out::line);
            left -= entry.size();
            lines += entry.size();
            shown++;
        }
        if (shown < entries.size()) {
            out.line("  … and " + (entries.size() - shown) + " more");
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
        String names = alike.stream().map(FirstScreen::name).collect(Collectors.joining(", "));
        String what = TextPage.loud(f.outcome()) + (f.mandatory() ? "" : " (advisory)") + "  " + names;
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
            Wrap.lines(because, out.width() - 4).forEach(line -> entry.add("    " + line));
        }
        // Painted after wrapping: the codes of a colour take no columns.
        String word = TextPage.loud(f.outcome());
        if (entry.get(0).startsWith("  " + word)) {
            entry.set(0, "  " + out.painted(word, f.outcome()) + entry.get(0).substring(2 + word.length()));
        }
        return entry;
    }

    private List<String> entry(String text) {
        List<String> entry = new ArrayList<>();
        Wrap.lines(text, out.width() - 4).forEach(line -> entry.add((entry.isEmpty() ? "  " : "    ") + line));
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
                        + FindingList.ofProbability(f.conformity().getAsDouble()))));
        verdict.demonstrated().forEach(d -> sure.add(entry(d)));
        return sure;
    }
}
