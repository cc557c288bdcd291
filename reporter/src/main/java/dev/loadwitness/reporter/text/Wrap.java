// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.runlog.Shown;
import java.util.ArrayList;
import java.util.List;

/** Breaks text into lines of a terminal. Works in columns, not in characters. */
final class Wrap {
    private Wrap() {}

    /**
     * On one line, without anything that a terminal would obey: texts come from logs, and a log may come from anywhere.
     */
    static String clean(String text) {
        StringBuilder out = new StringBuilder(text.length());
        Shown.line(text).codePoints().forEach(c -> out.appendCodePoint(Character.isWhitespace(c) ? ' ' : c));
        return out.toString().strip();
    }

    /** Columns that a text takes: none for combining marks, two for wide characters of East Asia and pictographs. */
    static int columns(String text) {
        return text.codePoints().map(Wrap::columns).sum();
    }

    /** The cleaned text in lines of at most {@code width} columns; one empty line for an empty text. */
    static List<String> lines(String text, int width) {
        List<String> lines = new ArrayList<>();
        StringBuilder line = new StringBuilder();
        for (String word : clean(text).split(" +", -1)) {
            boolean first = true;
            for (String piece : pieces(word, width)) {
                int gap = first && !line.isEmpty() ? 1 : 0;
                if (!line.isEmpty() && columns(line.toString()) + gap + columns(piece) > width) {
                    lines.add(line.toString());
                    line.setLength(0);
                    gap = 0;
                }
                line.append(" ".repeat(gap)).append(piece);
                first = false;
            }
        }
        lines.add(line.toString());
        return lines;
    }

    /** A word that fits, whole; a longer one after its hyphens, and by force where there are none. */
    private static List<String> pieces(String word, int width) {
        if (columns(word) <= width) {
            return List.of(word);
        }
        List<String> pieces = new ArrayList<>();
        StringBuilder piece = new StringBuilder();
        int taken = 0;
        for (int c : word.codePoints().toArray()) {
            if (!piece.isEmpty() && taken + columns(c) > width) {
                pieces.add(piece.toString());
                piece.setLength(0);
                taken = 0;
            }
            piece.appendCodePoint(c);
            taken += columns(c);
            if (c == '-') {
                pieces.add(piece.toString());
                piece.setLength(0);
                taken = 0;
            }
        }
        if (!piece.isEmpty()) {
            pieces.add(piece.toString());
        }
        return pieces;
    }

    private static int columns(int c) {
        int type = Character.getType(c);
        if (type == Character.NON_SPACING_MARK || type == Character.ENCLOSING_MARK) {
            return 0;
        }
        boolean wide = (c >= 0x1100 && c <= 0x115F)
                || (c >= 0x2E80 && c <= 0xA4CF)
                || (c >= 0xAC00 && c <= 0xD7A3)
                || (c >= 0xF900 && c <= 0xFAFF)
                || (c >= 0xFE30 && c <= 0xFE6F)
                || (c >= 0xFF00 && c <= 0xFF60)
                || (c >= 0xFFE0 && c <= 0xFFE6)
                || (c >= 0x1F300 && c <= 0x1FAFF)
                || (c >= 0x20000 && c <= 0x3FFFD);
        return wide ? 2 : 1;
    }
}
