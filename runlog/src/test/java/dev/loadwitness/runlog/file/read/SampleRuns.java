// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.stream.Stream;

/** The runs that the project carries in sample-runs/; none while that folder is empty. */
final class SampleRuns {
    private SampleRuns() {}

    /** First files of logs, damaged ones included. */
    static List<Path> all() throws IOException {
        return files().stream()
                .filter(file -> !name(file).matches(".*\\.part[0-9]+\\.jsonl"))
                .toList();
    }

    /** All files, further parts too, of logs that nobody damaged on purpose. */
    static List<Path> sound() throws IOException {
        return files().stream()
                .filter(file -> !name(file).contains("damaged") && !name(file).contains("tampered"))
                .toList();
    }

    private static List<Path> files() throws IOException {
        Path folder = Path.of("..", "sample-runs").toAbsolutePath().normalize();
        if (!Files.isDirectory(folder)) {
            return List.of();
        }
        try (Stream<Path> files = Files.walk(folder)) {
            return files.filter(file -> name(file).endsWith(".jsonl")).sorted().toList();
        }
    }

    private static String name(Path file) {
        return file.getFileName().toString();
    }
}
