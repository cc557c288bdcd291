// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.windows;

import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.concurrent.TimeUnit;

/** Runs a command line and waits for its end. */
interface CommandRunner {
    /**
     * How a command ended.
     *
     * @param output as bytes that are taken for Latin-1: only ASCII in it is looked at
     */
    record Answer(int exit, String output) {}

    Answer run(List<String> command) throws IOException;

    /** For real. Output goes to a file, so that a full pipe holds up nothing. */
    static Answer forReal(List<String> command) throws IOException {
        Path output = Files.createTempFile("loadwitness-answer", ".txt");
        try {
            Process process = new ProcessBuilder(command)
                    .redirectErrorStream(true)
                    .redirectOutput(output.toFile())
                    .start();
            process.getOutputStream().close();
            if (!process.waitFor(30, TimeUnit.SECONDS)) {
                process.destroyForcibly();
                throw new IOException(command.get(0) + " gave no answer within 30 s");
            }
            return new Answer(process.exitValue(), Files.readString(output, StandardCharsets.ISO_8859_1));
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            throw new IOException("interrupted while " + command.get(0) + " was asked", e);
        } finally {
            Files.deleteIfExists(output);
        }
    }
}
