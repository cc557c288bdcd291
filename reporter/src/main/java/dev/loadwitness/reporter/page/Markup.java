// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.runlog.Shown;

/** HTML being written. Every text goes through {@link Shown#line}: what a log says is never markup. */
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
        String shown = Shown.line(text);
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
}
