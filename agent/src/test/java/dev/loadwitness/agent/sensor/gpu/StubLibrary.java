// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardCopyOption;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.concurrent.TimeUnit;

/** A real shared library with the functions of the GPU's, made from {@code src/test/c/nvml_stub.c}: gcc must be there. */
final class StubLibrary {
    private static final Path SOURCE = Path.of("src/test/c/nvml_stub.c");

    private final Path file;

    /** Built in {@code folder}, with usual behaviour, but without the functions named. */
    StubLibrary(Path folder, String... without) throws IOException, InterruptedException {
        file = folder.resolve("libnvidia-ml.so.1");
        List<String> command = new ArrayList<>(List.of("gcc", "-shared", "-fPIC", "-O1", "-Wall", "-Werror"));
        Arrays.stream(without).forEach(function -> command.add("-D" + function + "=not_" + function));
        command.addAll(List.of("-o", file.toString(), SOURCE.toAbsolutePath().toString(), "-ldl"));
        Process gcc = new ProcessBuilder(command).inheritIO().start();
        assertThat(gcc.waitFor(60, TimeUnit.SECONDS)).as("gcc ends").isTrue();
        assertThat(gcc.exitValue()).as("gcc's status").isZero();
    }

    Path file() {
        return file;
    }

    /** From now on it behaves so: lines of the behaviour file. */
    void behaves(String... lines) throws IOException {
        // Replaced in one step: the library may be reading it.
        Path next = file.resolveSibling("next");
        Files.write(next, List.of(lines));
        Files.move(
                next,
                file.resolveSibling(file.getFileName() + ".behaviour"),
                StandardCopyOption.ATOMIC_MOVE,
                StandardCopyOption.REPLACE_EXISTING);
    }

    /** How often it was initialised, and shut down. */
    List<String> calls() throws IOException {
        Path calls = file.resolveSibling(file.getFileName() + ".calls");
        return Files.exists(calls) ? Files.readAllLines(calls, StandardCharsets.US_ASCII) : List.of();
    }
}
