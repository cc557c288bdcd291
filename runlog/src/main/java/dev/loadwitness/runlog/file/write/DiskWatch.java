// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.store.LogFile;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.time.Duration;
import java.util.Optional;

/** Tells the listener how the disk does: that a call stood still, that nothing can be written, that it can again. */
final class DiskWatch {
    private final WriterOptions options;

    /** Set by the writing thread, asked by any. */
    private volatile Optional<String> trouble = Optional.empty();

    private long lostSinceNanos;

    DiskWatch(WriterOptions options) {
        this.options = options;
    }

    Optional<String> trouble() {
        return trouble;
    }

    /** Writes all that remains. */
    void write(LogFile to, ByteBuffer bytes) throws IOException {
        while (bytes.hasRemaining()) {
            long before = now();
            try {
                writeSome(to, bytes);
            } finally {
                tellStall(before);
            }
        }
    }

    static void writeSome(LogFile to, ByteBuffer bytes) throws IOException {
        if (to.write(bytes) == 0) {
            throw new IOException("no room left");
        }
    }

    void force(LogFile file) throws IOException {
        long before = now();
        try {
            file.force();
        } finally {
            tellStall(before);
        }
    }

    private void tellStall(long before) {
        Duration took = Duration.ofNanos(now() - before);
        if (took.compareTo(options.stall()) > 0) {
            options.listener().stalled(took);
        }
    }

    void lost(String detail) {
        boolean first = trouble.isEmpty();
        trouble = Optional.of(detail);
        if (first) {
            lostSinceNanos = now();
            options.listener().storageLost(detail);
        }
    }

    /** Returns false if nothing was lost. */
    boolean back() {
        if (trouble.isEmpty()) {
            return false;
        }
        trouble = Optional.empty();
        options.listener().storageBack(Duration.ofNanos(now() - lostSinceNanos));
        return true;
    }

    private long now() {
        return options.nanoTime().getAsLong();
    }
}
