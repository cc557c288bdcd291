// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import dev.loadwitness.agent.process.OwnProcess;
import java.io.BufferedReader;
import java.io.IOException;
import java.io.OutputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Set;
import java.util.concurrent.BlockingQueue;
import java.util.concurrent.LinkedBlockingQueue;
import java.util.concurrent.TimeUnit;

/** The server, seen from its parent: one question at a time, each answered by a list of lines. */
final class ServerProcess implements AutoCloseable {
    private static final long BEAT_MILLIS = 1000;
    private static final Set<String> LAST_WORDS = Set.of("opened", "values", "failed");
    private static final List<String> JAVA_OPTIONS =
            List.of("-XX:+UseSerialGC", "-XX:TieredStopAtLevel=1", "-Xmx24m", "-Xshare:auto");

    private final Process process;
    private final OutputStream toServer;
    private final BlockingQueue<List<String>> answers = new LinkedBlockingQueue<>();
    private volatile boolean closing;

    private ServerProcess(Process process) {
        this.process = process;
        toServer = process.getOutputStream();
        daemon("gpu server reader", this::listen);
        daemon("gpu server heartbeat", this::beat);
    }

    static ServerProcess start(Path library) throws IOException {
        ProcessBuilder builder =
                OwnProcess.builder(List.of(), JAVA_OPTIONS, GpuServer.class, List.of(library.toString()));
        return new ServerProcess(builder.start());
    }

    private static void daemon(String name, Runnable body) {
        Thread thread = new Thread(body, name);
        thread.setDaemon(true);
        thread.start();
    }

    private void listen() {
        List<String> lines = new ArrayList<>();
        try (BufferedReader in = process.inputReader(StandardCharsets.US_ASCII)) {
            for (String line = in.readLine(); line != null; line = in.readLine()) {
                lines.add(line);
                int tab = line.indexOf('\t');
                if (LAST_WORDS.contains(tab < 0 ? line : line.substring(0, tab))) {
                    answers.add(List.copyOf(lines));
                    lines.clear();
                }
            }
        } catch (IOException e) {
            // It is gone, as at the end of its output.
        }
        answers.add(List.of()); // the end, which every later question gets too
    }

    private void beat() {
        try {
            while (process.isAlive() && !closing) {
                say("beat");
                Thread.sleep(BEAT_MILLIS);
            }
        } catch (IOException e) {
            // It is gone; whoever waits for an answer is told.
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
    }

    private void say(String line) throws IOException {
        synchronized (toServer) {
            toServer.write((line + "\n").getBytes(StandardCharsets.US_ASCII));
            toServer.flush();
        }
    }

    long pid() {
        return process.pid();
    }

    /** Asks without waiting; what goes wrong is seen in place of the answer. */
    void ask(String question) {
        try {
            say(question);
        } catch (IOException e) {
            // It is gone; the end of its output comes as the answer.
        }
    }

    /**
     * The next answer.
     *
     * @return null if none came in time; empty if the process has ended and none will ever come
     */
    List<String> await(long nanos) throws InterruptedException {
        List<String> answer = answers.poll(nanos, TimeUnit.NANOSECONDS);
        if (answer != null && answer.isEmpty()) {
            answers.add(answer);
        }
        return answer;
    }

    /** How it ended, for people. */
    String end() {
        try {
            if (process.waitFor(1, TimeUnit.SECONDS)) {
                return "its process ended with status " + process.exitValue();
            }
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
        return "its process closed its output";
    }

    /** Sends no more heartbeats, as a parent that has died or hangs. For tests. */
    void fallSilent() {
        closing = true;
    }

    /** Ends it without waiting: one that hangs inside the driver may never go. */
    @Override
    public void close() {
        closing = true;
        ask("stop");
        process.destroyForcibly();
    }
}
