// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.store.CheckedStore;
import dev.loadwitness.runlog.file.store.LogFile;
import java.io.IOException;
import java.util.List;

/**
 * What makes up a log that is being written. But for the answer to what trouble there is, its parts are one thread's own:
 * first of whoever begins, then of the writing thread.
 */
record OpenLog(
        CheckedStore store, LogLock lock, ReserveFile reserve, DurableTail tail, FurtherParts parts, DiskWatch watch) {
    private static final long ROOM_FOR_NEW_PART = 1 << 20;

    /** @param end where the log stands before anything is written */
    static OpenLog of(CheckedStore store, String stem, String runId, LogLock lock, LogEnd end, WriterOptions options) {
        DiskWatch watch = new DiskWatch(options);
        DurableTail tail = new DurableTail(store, stem, end, watch);
        return new OpenLog(
                store,
                lock,
                new ReserveFile(store, stem, runId, options),
                tail,
                new FurtherParts(store, stem, runId, tail, watch),
                watch);
    }

    /** Writes the first lines of this writer to that file, and returns when they are on the disk. */
    void begin(LogFile file, Lines first) throws IOException {
        try {
            tail.moveTo(file, tail.end());
            tail.writeFirst(first, reserve);
        } catch (IOException | RuntimeException e) {
            tail.leaveFile();
            throw e;
        }
        reserve.make();
    }

    /** The same in a further part. */
    void beginInFurtherPart(byte[] first) throws IOException {
        try {
            parts.open(List.of(first));
        } catch (IOException e) {
            if (!reserve.giveUp()) {
                throw e;
            }
            parts.open(List.of(first));
        }
        reserve.make();
    }

    boolean hasRoom() {
        try {
            return store.usableBytes() > ROOM_FOR_NEW_PART;
        } catch (IOException e) {
            return false;
        }
    }

    /**
     * Leaves the log alone behind.
     *
     * @param over whether it is closed, so that nobody can want to resume it
     */
    void tidy(boolean over) throws IOException {
        if (tail.elsewhere().isPresent()) {
            return;
        }
        reserve.delete();
        if (over) {
            lock.delete();
        }
    }

    void close() {
        tail.leaveFile();
        lock.release();
    }
}
