// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.runlog.Shown;
import gg.jte.html.HtmlTemplateOutput;
import java.util.Locale;
import java.util.Set;

/**
 * What the templates write into. Every text goes through {@link Shown#line}: what a log says is never markup, and nothing in
 * it is hidden or turned round. Where a browser would take a text for script, style or an address, none is written.
 */
final class EscapedHtml implements HtmlTemplateOutput {
    private static final Set<String> CODE = Set.of("script", "style");
    private static final Set<String> OBEYED =
            Set.of("style", "src", "srcset", "href", "action", "formaction", "srcdoc");

    private final StringBuilder out = new StringBuilder(1 << 16);
    private String context = "";
    private boolean takesText = true;

    @Override
    public void setContext(String tag, String attribute) {
        context = tag + (attribute == null ? "" : " " + attribute);
        String name = attribute == null ? "" : attribute.toLowerCase(Locale.ROOT);
        takesText = attribute == null
                ? tag == null || !CODE.contains(tag.toLowerCase(Locale.ROOT))
                : !name.startsWith("on") && !OBEYED.contains(name);
    }

    /** Markup of ours, as it stands. */
    @Override
    public void writeContent(String markup) {
        out.append(markup);
    }

    @Override
    public void writeContent(String markup, int from, int to) {
        out.append(markup, from, to);
    }

    @Override
    public void writeUserContent(String text) {
        if (!takesText) {
            throw new IllegalStateException("a template puts a text into " + context);
        }
        if (text != null) {
            out.append(escaped(text));
        }
    }

    @Override
    public void writeUserContent(char text) {
        writeUserContent(String.valueOf(text));
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
