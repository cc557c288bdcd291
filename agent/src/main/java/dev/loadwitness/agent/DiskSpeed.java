// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardOpenOption;
import java.util.Arrays;
import java.util.OptionalDouble;

/** How long a record of usual size takes until it is on the disk. */
final class DiskSpeed {
    private static final int TRIES = 21;
    private static final int RECORD_BYTES = 500;

    private DiskSpeed() {}

    /** Median seconds of a durable append in {@code folder}; empty if nothing can be written there. */
    static OptionalDouble measure(Path folder) {
        Path file = null;
        try {
            file = Files.createTempFile(folder, "loadwitness-probe", ".tmp");
            double[] seconds = new double[TRIES];
            try (FileChannel channel = FileChannel.open(file, StandardOpenOption.WRITE)) {
                for (int i = 0; i < TRIES; i++) {
                    long begin = System.nanoTime();
                    channel.write(ByteBuffer.wrap(new byte[RECORD_BYTES]));
                    channel.force(false);
                    seconds[i] = (System.nanoTime() - begin) / 1e9;
                }
            }
            Arrays.sort(seconds);
            return OptionalDouble.of(seconds[TRIES / 2]);
        } catch (IOException e) {
            return OptionalDouble.empty();
        } finally {
            deleteQuietly(file);
        }
    }

    private static void deleteQuietly(Path file) {
        try {
            if (file != null) {
                Files.deleteIfExists(file);
            }
        } catch (IOException e) {
            // A leftover of 10 KB in a temporary folder; the probe's answer is worth more.
        }
    }
}
