// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import java.util.List;

/** Rows as a plain table. Every cell is cleaned, since texts come from logs; blanks before it indent it. */
final class Columns {
    private static final String GAP = "  ";

    private Columns() {}

    /** All rows must have as many cells as the first. */
    static String of(List<List<String>> rows) {
        int[] widths = new int[rows.get(0).size()];
        for (List<String> row : rows) {
            for (int i = 0; i < widths.length; i++) {
                widths[i] = Math.max(widths[i], Wrap.columns(cell(row.get(i))));
            }
        }
        StringBuilder out = new StringBuilder();
        for (List<String> row : rows) {
            StringBuilder line = new StringBuilder();
            for (int i = 0; i < widths.length; i++) {
                String cell = cell(row.get(i));
                line.append(cell)
                        .append(" ".repeat(widths[i] - Wrap.columns(cell)))
                        .append(GAP);
            }
            out.append(line.toString().stripTrailing()).append('\n');
        }
        return out.toString();
    }

    private static String cell(String text) {
        return " ".repeat(text.length() - text.stripLeading().length()) + Wrap.clean(text);
    }
}
