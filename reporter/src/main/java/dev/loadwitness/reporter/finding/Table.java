// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import java.util.List;

/**
 * What of a finding does not fit into a sentence. All texts are finished, as those of {@link Finding} are.
 *
 * @param columns their heads; every row has as many cells
 */
public record Table(String title, List<String> columns, List<List<String>> rows) {
    public Table {
        columns = List.copyOf(columns);
        rows = rows.stream().map(List::copyOf).toList();
        for (List<String> row : rows) {
            if (row.size() != columns.size()) {
                throw new IllegalArgumentException("table '" + title + "' has " + columns.size()
                        + " columns, but a row with " + row.size() + " cells: " + row);
            }
        }
    }

    public Table titled(String other) {
        return new Table(other, columns, rows);
    }
}
