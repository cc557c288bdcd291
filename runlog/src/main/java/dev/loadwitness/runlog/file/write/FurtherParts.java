// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import dev.loadwitness.runlog.file.store.CheckedStore;
import dev.loadwitness.runlog.file.store.LogFile;
import java.io.IOException;
import java.nio.file.FileAlreadyExistsException;
import java.util.List;
import java.util.stream.Stream;

/** Goes on with a log in a further file, where what the disk holds of the last one can no longer be known. */
final class FurtherParts {
    private final CheckedStore store;
    private final String stem;
    private final String runId;
    private final DurableTail tail;
    private final DiskWatch watch;
    /** The highest number of a file that this writer has made. */
    private int tried;

    FurtherParts(CheckedStore store, String stem, String runId, DurableTail tail, DiskWatch watch) {
        this.store = store;
        this.stem = stem;
        this.runId = runId;
        this.tail = tail;
        this.watch = watch;
    }

    /**
     * Makes the next file, writes these records to it, and moves the tail there when they are on the disk. The file before
     * keeps what it holds; only up to the tail's end does it count.
     */
    void open(List<byte[]> bodies) throws IOException {
        LogEnd good = tail.end();
        int number = good.part() + 1;
        long after = good.bytes();
        LogFile next = null;
        while (next == null) {
            try {
                next = store.create(Format.fileName(stem, number));
            } catch (FileAlreadyExistsException e) {
                if (number > tried) {
                    throw new IOException(
                            store.describe(Format.fileName(stem, number)) + " is not of this writer: somebody else went"
                                    + " on with this log",
                            e);
                }
                // Left by an attempt of ours that failed, on a disk that was gone when it was to be removed.
                if (!discard(number)) {
                    number++;
                    after = 0;
                }
            }
        }
        tried = Math.max(tried, number);
        Part record = new Part(runId, number, after, good.chain());
        try {
            write(next, record, new LogEnd(number, good.n(), good.chain(), 0), bodies);
        } catch (IOException e) {
            CheckedStore.closeQuietly(next);
            discard(number);
            throw e;
        }
    }

    private void write(LogFile next, Part record, LogEnd before, List<byte[]> bodies) throws IOException {
        List<byte[]> all = Stream.concat(Stream.of(RecordEncoder.body(record)), bodies.stream())
                .toList();
        Lines lines = Lines.after(before, all);
        watch.write(next, lines.bytes());
        watch.force(next);
        tail.moveTo(next, lines.end());
    }

    /**
     * Removes a part that an attempt left: nothing in it was ever acknowledged, and the next attempt may take its name.
     * Returns false if it is still there.
     */
    private boolean discard(int number) {
        if (tail.elsewhere().isPresent()) {
            return false;
        }
        try {
            store.delete(Format.fileName(stem, number));
            return true;
        } catch (IOException e) {
            // The next attempt tries again, and takes the next number if that fails too.
            return false;
        }
    }
}
