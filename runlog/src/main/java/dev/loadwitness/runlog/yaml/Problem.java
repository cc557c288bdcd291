// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import dev.loadwitness.runlog.Shown;
import java.util.List;
import java.util.stream.Collectors;

/**
 * One fault of a file, for the person who wrote it.
 *
 * @param line from 1
 * @param column from 1, in characters
 * @param text what is wrong; what to do
 */
public record Problem(int line, int column, String text) {
    /** All problems, one a line, each beginning with file name, line and column. */
    public static String listed(String fileName, List<Problem> problems) {
        return problems.stream()
                .map(p -> Shown.line(fileName) + " line " + p.line() + ", column " + p.column() + ": " + p.text())
                .collect(Collectors.joining("\n"));
    }
}
