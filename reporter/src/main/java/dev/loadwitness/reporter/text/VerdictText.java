// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.criteria.Evidence;
import dev.loadwitness.reporter.criteria.Finding;
import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.reporter.verdict.Verdict;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;

/** The verdict for a screen: the sentence first, then the outcome, then every finding. */
public final class VerdictText {
    private static final int NARROWEST = 60;
    private static final int LABEL = 11;

    private VerdictText() {}

    /** The whole text, wrapped to {@code width} columns where a word allows it; ends with a line feed. */
    public static String of(Verdict verdict, int width) {
        Page page = new Page(Math.max(NARROWEST, width));
        page.paragraph("", verdict.sentence());
        page.line("");
        page.line("Verdict: " + shout(verdict.outcome()) + (verdict.header().simulated() ? "   (SIMULATED)" : ""));
        page.paragraph("", identity(verdict));
        page.line("");
        for (Finding f : verdict.findings()) {
            finding(page, f);
        }
        if (!verdict.attempts().isEmpty() && verdict.attempts().size() > 1) {
            page.line("Attempts on this ticket");
            verdict.attempts().forEach(a -> page.paragraph("  " + a.number() + ". ", a.summary()));
            page.line("");
        }
        section(page, "What this shows", verdict.demonstrated());
        section(page, "Notes", verdict.notes());
        return page.text();
    }

    private static String identity(Verdict verdict) {
        List<String> parts = new ArrayList<>();
        parts.add("run " + verdict.header().runId());
        if (!verdict.header().ticket().isEmpty()) {
            parts.add("ticket " + verdict.header().ticket());
        }
        parts.add("procedure " + verdict.procedure().name());
        parts.add("method " + verdict.methodVersion());
        return String.join(", ", parts);
    }

    private static void finding(Page page, Finding f) {
        String name = f.criterion().word() + (f.subject().isEmpty() ? "" : " (" + f.subject() + ")");
        page.line(pad(shout(f.outcome()), 14) + name + (f.mandatory() ? "" : "   advisory, does not decide"));
        row(page, "measured", f.measured());
        row(page, "limit", f.limit().isEmpty() ? "" : f.limit() + "   from: " + f.limitOrigin());
        row(page, "margin", f.margin());
        if (f.conformity().isPresent()) {
            row(
                    page,
                    "uncertain",
                    "+/- " + f.uncertainty() + " (k = 2); meets the limit with probability "
                            + String.format(Locale.ROOT, "%.3f", f.conformity().getAsDouble()));
        }
        row(page, "because", f.because());
        for (Evidence e : f.evidence()) {
            row(page, "evidence", e.place() + (e.at().isEmpty() ? "" : ", " + e.at()) + ": " + e.text());
        }
        page.line("");
    }

    private static void row(Page page, String label, String text) {
        if (!text.isEmpty()) {
            page.paragraph("    " + pad(label, LABEL), text);
        }
    }

    private static void section(Page page, String title, List<String> sentences) {
        if (!sentences.isEmpty()) {
            page.line(title);
            sentences.forEach(s -> page.paragraph("  - ", s));
            page.line("");
        }
    }

    /** The outcome in capitals, with blanks: {@code NOT MEASURED}. */
    public static String shout(Outcome outcome) {
        return outcome.word().replace('-', ' ').toUpperCase(Locale.ROOT);
    }

    private static String pad(String text, int width) {
        return text + " ".repeat(Math.max(1, width - text.length()));
    }

    /** Collects lines and wraps paragraphs under their first line's indent. */
    private static final class Page {
        private final StringBuilder text = new StringBuilder();
        private final int width;

        Page(int width) {
            this.width = width;
        }

        void line(String line) {
            text.append(line.stripTrailing()).append('\n');
        }

        void paragraph(String indent, String words) {
            StringBuilder line = new StringBuilder(indent);
            boolean empty = true;
            for (String word : words.strip().split("\\s+", -1)) {
                if (!empty && line.length() + 1 + word.length() > width) {
                    line(line.toString());
                    line.setLength(0);
                    line.append(" ".repeat(indent.length()));
                    empty = true;
                }
                line.append(empty ? "" : " ").append(word);
                empty = false;
            }
            line(line.toString());
        }

        String text() {
            return text.toString();
        }
    }
}
