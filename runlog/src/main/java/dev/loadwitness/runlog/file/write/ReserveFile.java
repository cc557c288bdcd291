// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.store.CheckedStore;
import dev.loadwitness.runlog.file.store.LogFile;
import java.io.IOException;
import java.nio.ByteBuffer;

/** Room kept free for the end of a run by a file beside its log, which is given up when the disk is full. */
final class ReserveFile {
    private final CheckedStore store;
    private final String name;
    private final String runId;
    private final WriterOptions options;
    private boolean there;

    ReserveFile(CheckedStore store, String stem, String runId, WriterOptions options) {
        this.store = store;
        this.name = stem + ".reserve";
        this.runId = runId;
        this.options = options;
    }

    /** Looks whether a killed run left its own. */
    void find() throws IOException {
        there = store.contains(name);
    }

    boolean isThere() {
        return there;
    }

    void make() {
        if (options.ballastBytes() == 0) {
            return;
        }
        ByteBuffer bytes = ByteBuffer.wrap(Reserve.bytes(runId, options.ballastBytes()));
        try {
            // What a killed run left, or one of our own.
            store.delete(name);
            try (LogFile made = store.create(name)) {
                there = true;
                int count;
                do {
                    count = made.write(bytes);
                } while (count > 0 && bytes.hasRemaining());
                made.force();
                if (bytes.hasRemaining()) {
                    options.listener().storageLow("no room for a reserve of " + options.ballastBytes() + " bytes");
                }
            }
        } catch (IOException e) {
            options.listener()
                    .storageLow(
                            "no room for a reserve of " + options.ballastBytes() + " bytes: " + CheckedStore.reason(e));
        }
    }

    /**
     * Returns false if that gave no room, or there was none. Not to be called before it is sure that the path leads to this
     * log.
     */
    boolean giveUp() {
        if (!there) {
            return false;
        }
        there = false;
        try {
            store.delete(name);
            return true;
        } catch (IOException e) {
            // The caller is about to say that nothing can be written; there is no more to say.
            return false;
        }
    }

    /** At the end. Also if it was given up: that may have failed on a disk that was gone at the time. */
    void delete() throws IOException {
        store.delete(name);
    }
}
