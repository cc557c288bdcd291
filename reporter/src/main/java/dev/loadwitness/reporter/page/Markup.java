// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import java.util.Locale;

/** HTML being written. Every text goes through {@link #shown}: what a log says is never markup. */
final class Markup {
    private final StringBuilder out = new StringBuilder(1 << 16);

    /** Markup of ours, as it stands. */
    Markup raw(String markup) {
        out.append(markup);
        return this;
    }

    Markup text(String text) {
        out.append(escaped(text));
        return this;
    }

    /** {@code <name class="…">text</name>}; the class is left out if empty. */
    Markup element(String name, String cssClass, String text) {
        out.append('<').append(name);
        if (!cssClass.isEmpty()) {
            out.append(" class=\"").append(escaped(cssClass)).append('"');
        }
        out.append('>').append(escaped(text)).append("</").append(name).append('>');
        return this;
    }

    @Override
    public String toString() {
        return out.toString();
    }

    /** Safe inside an element and inside a quoted attribute. */
    static String escaped(String text) {
        String shown = shown(text);
        StringBuilder safe = new StringBuilder(shown.length() + 16);
        for (int i = 0; i < shown.length(); i++) {
            char c = shown.charAt(i);
            switch (c) {
                case '<' -> safe.append("&lt;");
                case '>' -> safe.append("&gt;");
                case '&' -> safe.append("&amp;");
                case '"' -> safe.append("&quot;");
                case '\'' -> safe.append("&#39;");
                default -> safe.append(c);
            }
        }
        return safe.toString();
    }

    /**
     * Characters that cannot be seen, or that change the order in which others are read, are named instead of obeyed:
     * a ticket must not look like another one.
     */
    static String shown(String text) {
        StringBuilder shown = new StringBuilder(text.length());
        text.codePoints().forEach(c -> {
            int type = Character.getType(c);
            if (c == '\n' || c == '\t') {
                shown.append(' ');
            } else if (type == Character.CONTROL
                    || type == Character.FORMAT
                    || type == Character.SURROGATE
                    || type == Character.PRIVATE_USE
                    || type == Character.UNASSIGNED
                    || type == Character.LINE_SEPARATOR
                    || type == Character.PARAGRAPH_SEPARATOR) {
                shown.append(String.format(Locale.ROOT, "\u27E8U+%04X\u27E9", c));
            } else {
                shown.appendCodePoint(c);
            }
        });
        return shown.toString();
    }
}
