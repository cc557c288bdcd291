// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.leftover;

import dev.loadwitness.runlog.disk.FoundEntry;
import java.nio.file.Path;

/**
 * Something of ours on this machine.
 *
 * @param thing as it was looked at
 * @param bytes what it takes up
 * @param kept why it must stay; empty if it can go
 */
public record Leftover(Kind kind, FoundEntry thing, long bytes, String kept) {
    /** What it is, in words for people. */
    public enum Kind {
        MEMORY_COPY("copy of the program in memory"),
        MEASUREMENT("file of a broken-off measurement of the disk"),
        WRITER_FILE("lock or reserve of a log that is not being written"),
        UNFINISHED_COPY("unfinished copy of a log"),
        WORK_FOLDER("log on the internal disk");

        private final String words;

        Kind(String words) {
            this.words = words;
        }

        public String words() {
            return words;
        }
    }

    public Path path() {
        return thing.path();
    }

    public boolean mayGo() {
        return kept.isEmpty();
    }
}
