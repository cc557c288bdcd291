// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.finding.Outcome;
import java.util.Locale;

/** Wrapped and indented lines for a terminal of one width, with colours where they are wanted. */
final class TextPage {
    private static final int NARROWEST = 30;

    private final int width;
    private final boolean colour;
    private final StringBuilder out = new StringBuilder();

    TextPage(int width, boolean colour) {
        this.width = Math.max(width, NARROWEST);
        this.colour = colour;
    }

    int width() {
        return width;
    }

    /** Lines so far. */
    int height() {
        return (int) out.chars().filter(c -> c == '\n').count();
    }

    @Override
    public String toString() {
        return out.toString();
    }

    /** One line as it is: it was wrapped, and may be painted. */
    void line(String text) {
        out.append(text.stripTrailing()).append('\n');
    }

    void title(String text) {
        line("");
        line(text);
    }

    void lines(String indent, String text) {
        for (String line : Wrap.lines(text, width - indent.length())) {
            line(indent + line);
        }
    }

    void hanging(String indent, String text) {
        String lead = "- ";
        for (String line : Wrap.lines(text, width - indent.length() - 2)) {
            line(indent + lead + line);
            lead = "  ";
        }
    }

    String painted(String text, Outcome outcome) {
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

    static String loud(Outcome outcome) {
        return outcome.word().toUpperCase(Locale.ROOT).replace('-', ' ');
    }
}
