// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.store.CheckedStore;
import dev.loadwitness.runlog.file.store.LogFile;
import dev.loadwitness.runlog.file.write.RecordQueue.Entry;
import java.io.EOFException;
import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * The file that is written to, and how far it is known to be on the disk: where the log ends, the last batches before that,
 * and whether the path still leads there.
 */
final class DurableTail {
    private static final long KEPT_BYTES = 256 << 10;

    /** Where the file ended before a batch that is on the disk, and that batch. */
    private record Mark(LogEnd end, List<Entry> batch) {
        long size() {
            return batch.stream().mapToLong(e -> e.body().length).sum();
        }
    }

    private final CheckedStore store;
    private final String stem;
    private final DiskWatch watch;
    private @Nullable LogFile file;
    private LogEnd end;
    /** The last of what is on the disk, in case a disk that was pulled turns out to have lost what it had confirmed. */
    private final ArrayDeque<Mark> kept = new ArrayDeque<>();

    private long keptBytes;

    /** @param end where the log stands before anything is written */
    DurableTail(CheckedStore store, String stem, LogEnd end, DiskWatch watch) {
        this.store = store;
        this.stem = stem;
        this.end = end;
        this.watch = watch;
    }

    private LogFile file() {
        return requireNonNull(file, "whoever opens a log moves to its file first");
    }

    LogEnd end() {
        return end;
    }

    String name() {
        return Format.fileName(stem, end.part());
    }

    /** Goes on in {@code next}, in which the log ends there. */
    void moveTo(LogFile next, LogEnd there) {
        leaveFile();
        file = next;
        end = there;
        kept.clear();
        keptBytes = 0;
    }

    void leaveFile() {
        CheckedStore.closeQuietly(file);
    }

    boolean isCurrent() {
        return file().isCurrent();
    }

    /** Appends the first lines of this writer, on the thread of whoever begins, and waits until they are on the disk. */
    void writeFirst(Lines lines, ReserveFile reserve) throws IOException {
        try {
            try {
                writeUntold(lines.bytes());
            } catch (IOException e) {
                // A killed run left its reserve: a disk that filled up meanwhile still takes the record of this start.
                if (!reserve.giveUp()) {
                    throw e;
                }
                writeUntold(lines.bytes());
            }
            file().force();
        } catch (IOException e) {
            throw new IOException(
                    "cannot write " + store.describe(name()) + ": " + CheckedStore.reason(e)
                            + ". Make room or choose another folder",
                    e);
        }
        end = lines.end();
    }

    private void writeUntold(ByteBuffer bytes) throws IOException {
        while (bytes.hasRemaining()) {
            DiskWatch.writeSome(file(), bytes);
        }
    }

    void write(ByteBuffer bytes) throws IOException {
        watch.write(file(), bytes);
    }

    /** Returns when what was written is on the disk: that batch, with which the log ends there. */
    void force(List<Entry> batch, LogEnd there) throws IOException {
        watch.force(file());
        Mark mark = new Mark(end, batch);
        kept.add(mark);
        keptBytes += mark.size();
        while (keptBytes > KEPT_BYTES && kept.size() > 1) {
            keptBytes -= kept.remove().size();
        }
        end = there;
    }

    /**
     * Why the path does not lead to this log, as far as it is known to be written; empty if it does. A stick that was
     * pulled leaves an empty folder behind, and another may come in its place: neither may be written to. The chain
     * value at the last good byte is found in no other log. Only reads.
     */
    Optional<String> elsewhere() {
        String name = name();
        try {
            List<String> names = store.list();
            if (!names.contains(Format.fileName(stem, 1)) || !names.contains(name)) {
                return Optional.of(store.describe(name) + " is not there any more");
            }
            Mark oldest = kept.peekFirst();
            if (holds(end) || (oldest != null && holds(oldest.end()))) {
                return Optional.empty();
            }
            return Optional.of(
                    store.describe(name) + " is not this run's log, or lacks much of what was on the disk already");
        } catch (IOException e) {
            return Optional.of(store.describe(name) + " cannot be reached: " + CheckedStore.reason(e));
        }
    }

    /** True if the file, as the path leads to it now, has that chain value before that byte. */
    private boolean holds(LogEnd place) throws IOException {
        byte[] expected = new byte[Chain.SUFFIX_LENGTH + 1];
        Chain.putSuffix(Chain.bytes(place.chain()), expected, 0);
        if (place.bytes() < expected.length) {
            return true; // nothing of this file counts yet
        }
        try (InputStream in = store.read(name())) {
            in.skipNBytes(place.bytes() - expected.length);
            return Arrays.equals(in.readNBytes(expected.length), expected);
        } catch (EOFException e) {
            return false;
        }
    }

    /** Goes back to the last place that the disk still holds; returns what was behind it and must be written again. */
    List<Entry> rewind() throws IOException {
        List<Entry> again = new ArrayList<>();
        while (!holds(end)) {
            Mark mark = kept.pollLast();
            if (mark == null) {
                throw new IOException(store.describe(name()) + " changed while it was looked at");
            }
            keptBytes -= mark.size();
            end = mark.end();
            again.addAll(0, mark.batch());
        }
        return again;
    }
}
