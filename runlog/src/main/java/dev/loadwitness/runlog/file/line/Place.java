// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

/**
 * Where a record or a damage lies.
 *
 * @param part number of the file within the log, 1 for the first
 * @param line number of the line within that file, from 1
 * @param offset of its first byte within that file
 */
public record Place(int part, long line, long offset) {
    @Override
    public String toString() {
        return part == 1 ? "line " + line : "part " + part + " line " + line;
    }
}
