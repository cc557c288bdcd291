// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.file;

import dev.loadwitness.agent.process.SpareThread;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.List;
import java.util.concurrent.ExecutionException;
import java.util.concurrent.TimeoutException;

/**
 * Asks a device once, on a thread that can be spared, before anything else relies on it: a driver that hangs while
 * sensors are being found must not hang the search.
 */
public final class Greeting {
    public static final Duration PATIENCE = Duration.ofSeconds(2);

    private Greeting() {}

    /** Whether all {@code files} were read to their end, or refused, within {@code patience}. */
    public static boolean answered(List<Path> files, Duration patience) {
        try {
            SpareThread.ask("greeting", patience, () -> {
                files.forEach(Greeting::read);
                return true;
            });
            return true;
        } catch (ExecutionException e) {
            return true;
        } catch (TimeoutException e) {
            return false;
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            return false;
        }
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
