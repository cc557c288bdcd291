// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

/**
 * How far a log is known to be on disk.
 *
 * @param records in all its files, header and parts included
 * @param chain chain value of the last of them
 */
public record LogPosition(long records, String chain) {}
