// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import java.time.Duration;

/** Hands on what the writer says, and keeps from it whatever befalls the one who listens: the log matters more. */
final class SteadyListener implements WriterListener {
    private final WriterListener listener;

    SteadyListener(WriterListener listener) {
        this.listener = listener;
    }

    private static void say(Runnable word) {
        try {
            word.run();
        } catch (RuntimeException | Error e) {
            // There is nobody else to tell; what it was about is found in the log's own gaps.
            return;
        }
    }

    @Override
    public void storageLow(String detail) {
        say(() -> listener.storageLow(detail));
    }

    @Override
    public void storageLost(String detail) {
        say(() -> listener.storageLost(detail));
    }

    @Override
    public void storageBack(Duration lost) {
        say(() -> listener.storageBack(lost));
    }

    @Override
    public void stalled(Duration length) {
        say(() -> listener.stalled(length));
    }

    @Override
    public void partBegun(int part, String why) {
        say(() -> listener.partBegun(part, why));
    }
}
