// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.opencl;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.concurrent.TimeUnit;

/** Libraries made from {@code src/test/c/opencl_stub.c}, and a way for tests, and for them alone, to another than the system's. */
public final class StubDriver {
    private static final Path SOURCE = Path.of("src/test/c/opencl_stub.c");
    private static final String SYSTEM = "/usr/lib/x86_64-linux-gnu/libOpenCL.so.1";

    private StubDriver() {}

    /** One that computes nothing, and does what its file's name says. */
    public static Path build(Path file) throws IOException, InterruptedException {
        return gcc(file, List.of());
    }

    /** The system's own, which can be made {@link #lazy}. */
    public static Path buildLazy(Path file) throws IOException, InterruptedException {
        return gcc(file, List.of("-DLAZY", "-Wl,--no-as-needed", SYSTEM));
    }

    /** One that has none of OpenCL's functions. */
    public static Path buildEmpty(Path file) throws IOException, InterruptedException {
        return gcc(file, List.of("-DEMPTY"));
    }

    private static Path gcc(Path file, List<String> more) throws IOException, InterruptedException {
        List<String> command = new ArrayList<>(List.of(
                "gcc", "-shared", "-fPIC", "-O1", "-Wall", "-Werror", "-o", file.toString(), SOURCE.toString()));
        command.addAll(more);
        command.add("-ldl");
        Process gcc = new ProcessBuilder(command).inheritIO().start();
        assertThat(gcc.waitFor(60, TimeUnit.SECONDS)).as("gcc ends").isTrue();
        assertThat(gcc.exitValue()).as("gcc's status").isZero();
        return file;
    }

    /** From now on it leaves out all but the first group of a kernel's work, and says that all is done. */
    public static void lazy(Path library) throws IOException {
        Files.createFile(library.resolveSibling(library.getFileName() + ".lazy"));
    }

    public static OpenCl load(Path library) {
        return OpenCl.load(library);
    }
}
