// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Comparator;
import java.util.List;
import java.util.stream.Stream;

/** A folder for one process's inputs, in memory where there is such a place: a million files need no disk. */
final class Scratch {
    static final Path FOLDER = make();

    private Scratch() {}

    private static Path make() {
        try {
            Path memory = Path.of("/dev/shm");
            Path folder = Files.isWritable(memory)
                    ? Files.createTempDirectory(memory, "loadwitness-fuzz")
                    : Files.createTempDirectory("loadwitness-fuzz");
            Runtime.getRuntime().addShutdownHook(new Thread(() -> delete(folder)));
            return folder;
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    static void delete(Path folder) {
        try (Stream<Path> files = Files.walk(folder)) {
            List<Path> all = files.sorted(Comparator.reverseOrder()).toList();
            for (Path file : all) {
                Files.deleteIfExists(file);
            }
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }
}
