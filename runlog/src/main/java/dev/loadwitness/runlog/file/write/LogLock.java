// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.store.CheckedStore;
import java.io.Closeable;
import java.io.IOException;
import org.jspecify.annotations.Nullable;

/** The lock that keeps every other writer from a log: held from before its first byte until its files are closed. */
final class LogLock {
    private final CheckedStore store;
    private final String name;
    private @Nullable Closeable held;

    private LogLock(CheckedStore store, String name) {
        this.store = store;
        this.name = name;
    }

    static LogLock take(CheckedStore store, String stem) throws IOException {
        LogLock lock = new LogLock(store, stem + ".lock");
        lock.take();
        return lock;
    }

    void take() throws IOException {
        String where = store.describe(name);
        try {
            held = store.lock(name).orElse(null);
        } catch (IOException e) {
            throw new IOException(
                    "cannot create " + where + ": " + CheckedStore.reason(e) + ". Choose a folder that can be written",
                    e);
        }
        if (held == null) {
            throw new IOException("another writer holds " + where + ": this log is being written. Stop that one first");
        }
    }

    void release() {
        CheckedStore.closeQuietly(held);
        held = null;
    }

    /** Of a closed log, which nobody can want to resume any more. */
    void deleteQuietly() {
        try {
            delete();
        } catch (IOException e) {
            // Left behind: an empty file, which the next one takes away.
            return;
        }
    }

    /** Removes its file. Only when nobody can want to resume the log any more, else two could hold "it". */
    void delete() throws IOException {
        store.delete(name);
    }
}
