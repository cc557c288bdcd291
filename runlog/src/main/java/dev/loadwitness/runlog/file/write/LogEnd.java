// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.LogPosition;

/**
 * Where a log ends, as far as it is known to be on the disk.
 *
 * @param part its last file that counts
 * @param n number of its last record; −1 if there is none yet
 * @param chain chain value of that record
 * @param bytes how much of that file counts
 */
record LogEnd(int part, long n, String chain, long bytes) {
    /** Before the header. */
    static final LogEnd NONE = new LogEnd(1, -1, Chain.text(Chain.start()), 0);

    LogPosition position() {
        return new LogPosition(n + 1, chain);
    }
}
