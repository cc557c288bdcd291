// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import java.time.Duration;
import java.util.ArrayList;
import java.util.List;

/** Keeps what the writer says, and the clock that its classes go by: for tests on one thread. */
final class Heard implements WriterListener {
    final List<String> words = new ArrayList<>();
    long nowNanos;

    WriterOptions options(long queueBytes, int ballastBytes) {
        return new WriterOptions(
                queueBytes, 1 << 20, ballastBytes, Duration.ofSeconds(2), Duration.ofDays(1), () -> nowNanos, this);
    }

    WriterOptions options() {
        return options(1 << 20, 4096);
    }

    @Override
    public void storageLow(String detail) {
        words.add("low: " + detail);
    }

    @Override
    public void storageLost(String detail) {
        words.add("lost: " + detail);
    }

    @Override
    public void storageBack(Duration lost) {
        words.add("back after " + lost);
    }

    @Override
    public void stalled(Duration length) {
        words.add("stalled for " + length);
    }

    @Override
    public void partBegun(int part, String why) {
        words.add("part " + part);
    }
}
