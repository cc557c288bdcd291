// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.List;

/**
 * Asks a device once, on a thread that can be spared, before anything else relies on it: a driver that hangs while
 * sensors are being found must not hang the search.
 */
final class Greeting {
    static final Duration PATIENCE = Duration.ofSeconds(2);

    private Greeting() {}

    /** Whether all {@code files} were read to their end, or refused, within {@code patience}. */
    static boolean answered(List<Path> files, Duration patience) {
        Thread thread = new Thread(() -> files.forEach(Greeting::read), "greeting");
        thread.setDaemon(true);
        thread.start();
        try {
            thread.join(patience.toMillis());
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
        return !thread.isAlive();
    }

    private static void read(Path file) {
        if (Files.isDirectory(file)) {
            return;
        }
        try (var in = Files.newInputStream(file)) {
            in.readNBytes(256);
        } catch (IOException e) {
            // A refusal is an answer; why is asked later, where it is reported.
        }
    }
}
