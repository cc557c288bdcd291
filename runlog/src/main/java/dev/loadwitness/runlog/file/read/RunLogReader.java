// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.store.FolderStore;
import java.io.IOException;
import java.nio.file.Path;

/**
 * Reads a run log of any size in one pass and in memory that does not grow with it.
 *
 * <p>Damage is handed to the visitor and summed up, never thrown, and reading goes on behind it where that is honest.
 * Changes no file.
 */
public final class RunLogReader {
    private RunLogReader() {}

    /**
     * Reads the log that begins in {@code firstFile}, with the further parts {@code <stem>.part2.jsonl} … beside it. What
     * has such a name and is no regular file, or does not open with this run's part record, is not read but named in
     * {@link ReadSummary#strangers}.
     *
     * @throws UnsupportedLogException if the file is no run log, or one of a newer major version
     * @throws IOException if a file cannot be opened or read
     */
    public static ReadSummary read(Path firstFile, LogVisitor visitor) throws IOException {
        Path file = firstFile.toAbsolutePath();
        Path folder = file.getParent();
        Path name = file.getFileName();
        if (folder == null || name == null) {
            throw new UnsupportedLogException(firstFile + " is a folder: give the log's first file", false);
        }
        return new LogScan(new FolderStore(folder, name.toString()), name.toString(), visitor).run();
    }

    /** The path of a further part of the log that begins in {@code firstFile}; for 1, that file itself. */
    public static Path part(Path firstFile, int number) {
        String name = firstFile.getFileName().toString();
        return number == 1
                ? firstFile
                : firstFile.resolveSibling(
                        Format.fileName(name.substring(0, name.length() - Format.EXTENSION.length()), number));
    }
}
