// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.io.FilterWriter;
import java.io.IOException;
import java.io.Writer;
import java.util.List;
import java.util.Locale;

/**
 * Text of a log, a job sheet or a procedure on its way out. Such texts may come from anybody: characters that a terminal
 * would obey, that cannot be seen, or that change the order in which others are read are named instead,
 * {@code ⟨U+202E⟩}, so that one ticket cannot look like another. Which they are is fixed here and does not depend on
 * the Java that runs.
 */
public final class Shown {
    /** What a verdict is painted with on a terminal; nothing else that steers one is printed. */
    private static final List<String> COLOURS =
            List.of("\u001B[1;31m", "\u001B[1;32m", "\u001B[1;33m", "\u001B[2m", "\u001B[0m");

    private Shown() {}

    /** Whether it can be shown as it is. A space and letters of any script can; a line feed or a tab cannot. */
    public static boolean visible(int c) {
        return !(c < 0x20
                || (c >= 0x7F && c <= 0x9F) // DEL, C1
                || c == 0xAD // soft hyphen
                || c == 0x34F // combining grapheme joiner
                || c == 0x61C // Arabic letter mark
                || c == 0x115F // Hangul fillers
                || c == 0x1160
                || c == 0x3164
                || c == 0xFFA0
                || (c >= 0x17B4 && c <= 0x17B5) // Khmer vowels that are not seen
                || (c >= 0x180B && c <= 0x180F) // Mongolian variation selectors and vowel separator
                || (c >= 0x200B && c <= 0x200F) // zero width, marks of direction
                || (c >= 0x2028 && c <= 0x202E) // separators, embeddings and overrides of direction
                || (c >= 0x2060 && c <= 0x206F) // word joiner, isolates
                || (c >= 0xD800 && c <= 0xF8FF) // surrogates without partner, private use
                || c == 0xFEFF
                || (c >= 0xFFF0 && c <= 0xFFFB) // specials, annotation
                || (c & 0xFFFE) == 0xFFFE // no characters
                || (c >= 0xFDD0 && c <= 0xFDEF)
                || (c >= 0x1BCA0 && c <= 0x1BCA3) // shorthand format
                || (c >= 0x1D173 && c <= 0x1D17A) // musical format
                || c >= 0xE0000); // tags, private use
    }

    /** On one line: line feeds and tabs become spaces, what else cannot be seen is named. */
    public static String line(String text) {
        if (text.codePoints().allMatch(Shown::visible)) {
            return text;
        }
        StringBuilder out = new StringBuilder(text.length() + 16);
        text.codePoints().forEach(c -> append(out, c == '\n' || c == '\t' || c == '\r' ? ' ' : c));
        return out.toString();
    }

    /** The same of its beginning, if it is longer than that; no character is halved. */
    public static String line(String text, int most) {
        if (text.length() <= most) {
            return line(text);
        }
        int end = Character.isHighSurrogate(text.charAt(most - 1)) ? most - 1 : most;
        return line(text.substring(0, end)) + " …";
    }

    private static void append(StringBuilder out, int c) {
        if (visible(c)) {
            out.appendCodePoint(c);
        } else {
            out.append(String.format(Locale.ROOT, "\u27E8U+%04X\u27E9", c));
        }
    }

    /**
     * JSON text with the same characters escaped inside its strings. Outside of strings JSON has none of them but line feeds and
     * tabs, which stay.
     */
    public static String json(String json) {
        if (json.codePoints().allMatch(c -> visible(c) || c == '\n' || c == '\t')) {
            return json;
        }
        StringBuilder out = new StringBuilder(json.length() + 64);
        json.codePoints().forEach(c -> {
            if (visible(c) || c == '\n' || c == '\t') {
                out.appendCodePoint(c);
                return;
            }
            for (char half : Character.toChars(c)) {
                out.append(String.format(Locale.ROOT, "\\u%04X", (int) half));
            }
        });
        return out.toString();
    }

    /**
     * Lets line feeds, tabs and a verdict's colours through, and names the rest of what cannot be seen: whatever is printed
     * passes here.
     */
    public static Writer writer(Writer out) {
        return new Naming(out);
    }

    private static final class Naming extends FilterWriter {
        /** The first half of a character whose second half may come with the next call; 0 if none waits. */
        private char half;

        Naming(Writer out) {
            super(out);
        }

        private static String colour(String text, int at) {
            return COLOURS.stream()
                    .filter(c -> text.startsWith(c, at))
                    .findFirst()
                    .orElse("");
        }

        @Override
        public void write(int c) throws IOException {
            write(String.valueOf((char) c), 0, 1);
        }

        @Override
        public void write(char[] text, int from, int length) throws IOException {
            write(new String(text, from, length), 0, length);
        }

        @Override
        public void write(String text, int from, int length) throws IOException {
            String all = (half == 0 ? "" : String.valueOf(half)) + text.substring(from, from + length);
            half = 0;
            if (!all.isEmpty() && Character.isHighSurrogate(all.charAt(all.length() - 1))) {
                half = all.charAt(all.length() - 1);
                all = all.substring(0, all.length() - 1);
            }
            StringBuilder shown = new StringBuilder(all.length() + 16);
            for (int i = 0; i < all.length(); ) {
                int c = all.codePointAt(i);
                String colour = c == '\u001B' ? colour(all, i) : "";
                if (c == '\n' || c == '\t') {
                    shown.append((char) c);
                } else if (!colour.isEmpty()) {
                    shown.append(colour);
                } else {
                    Shown.append(shown, c);
                }
                i += colour.isEmpty() ? Character.charCount(c) : colour.length();
            }
            out.write(shown.toString());
        }
    }
}
