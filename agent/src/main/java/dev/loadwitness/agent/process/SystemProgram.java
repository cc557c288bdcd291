// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import java.io.File;
import java.io.IOException;
import java.io.InputStream;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.Arrays;
import java.util.List;
import java.util.concurrent.ExecutionException;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.TimeoutException;

/** Asks one of the system's own programs, by its absolute path, with an empty environment, for so long and so much. */
public final class SystemProgram {
    /**
     * What it said.
     *
     * @param cut whether there was more than was wanted
     * @param status of the program's exit; meaningless if cut
     */
    @SuppressWarnings("ArrayRecordComponent") // made once, read once
    public record Answer(byte[] bytes, boolean cut, int status) {
        public boolean failed() {
            return !cut && status != 0;
        }
    }

    private SystemProgram() {}

    /**
     * The absolute path of a program of the system below that root.
     *
     * @throws IOException if there is none
     */
    public static String find(Path root, String name) throws IOException {
        for (String folder : List.of("usr/bin", "bin")) {
            Path program = root.resolve(folder).resolve(name);
            if (Files.isExecutable(program)) {
                return program.toAbsolutePath().toString();
            }
        }
        throw new IOException("there is no " + name);
    }

    /**
     * Runs it and takes its answer.
     *
     * @throws IOException if it cannot be started, or has not answered within the limit
     */
    public static Answer ask(List<String> command, int mostBytes, Duration limit) throws IOException {
        ProcessBuilder builder = new ProcessBuilder(command)
                .directory(new File("/"))
                .redirectInput(ProcessBuilder.Redirect.from(new File("/dev/null")))
                .redirectError(ProcessBuilder.Redirect.DISCARD);
        builder.environment().clear();
        builder.environment().put("LC_ALL", "C");
        Process process = builder.start();
        long end = System.nanoTime() + limit.toNanos();
        String name = new File(command.get(0)).getName();
        try {
            byte[] bytes = SpareThread.ask("reads " + name, limit, () -> {
                try (InputStream in = process.getInputStream()) {
                    return in.readNBytes(mostBytes + 1);
                }
            });
            if (bytes.length > mostBytes) {
                return new Answer(Arrays.copyOf(bytes, mostBytes), true, 0);
            }
            if (!process.waitFor(end - System.nanoTime(), TimeUnit.NANOSECONDS)) {
                throw new IOException(name + " did not end within " + limit.toSeconds() + " s");
            }
            return new Answer(bytes, false, process.exitValue());
        } catch (TimeoutException e) {
            throw new IOException(name + " did not answer within " + limit.toSeconds() + " s", e);
        } catch (ExecutionException e) {
            throw new IOException(name + ": its answer could not be read", e);
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            throw new IOException(name + ": interrupted", e);
        } finally {
            process.destroyForcibly();
        }
    }
}
