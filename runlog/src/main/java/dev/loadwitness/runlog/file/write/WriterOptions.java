// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import java.time.Duration;
import java.util.function.LongSupplier;

/**
 * How a writer behaves.
 *
 * @param queueBytes what may wait for the disk before samples are dropped
 * @param reservedBytes as much again, for everything that is not a sample
 * @param ballastBytes room kept free on the disk by a file of that size, given up when the disk is full
 * @param stall a write or force longer than this is told to the listener
 * @param retry how long to wait before the disk is tried again
 * @param nanoTime a clock like {@link System#nanoTime}
 */
public record WriterOptions(
        long queueBytes,
        long reservedBytes,
        int ballastBytes,
        Duration stall,
        Duration retry,
        LongSupplier nanoTime,
        WriterListener listener) {
    public WriterOptions {
        if (queueBytes <= 0 || reservedBytes <= 0 || ballastBytes < 0) {
            throw new IllegalArgumentException("queue and reserve must hold something");
        }
    }

    public WriterOptions withQueueBytes(long bytes) {
        return new WriterOptions(bytes, reservedBytes, ballastBytes, stall, retry, nanoTime, listener);
    }

    /** The same with a listener that nothing gets past. */
    WriterOptions steady() {
        WriterListener steady = new SteadyListener(listener);
        return new WriterOptions(queueBytes, reservedBytes, ballastBytes, stall, retry, nanoTime, steady);
    }

    /** 4 MiB of queue (20 minutes at 10 Hz with 24 channels), 4 MiB for events, 256 KiB of ballast. */
    public static WriterOptions defaults(WriterListener listener) {
        return new WriterOptions(
                4 << 20, 4 << 20, 256 << 10, Duration.ofSeconds(2), Duration.ofSeconds(1), System::nanoTime, listener);
    }
}
