// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import dev.loadwitness.agent.process.BoundedLines;
import dev.loadwitness.agent.process.ChildInput;
import dev.loadwitness.agent.process.OwnProcess;
import dev.loadwitness.agent.process.SpareThread;
import java.io.IOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.BlockingQueue;
import java.util.concurrent.LinkedBlockingQueue;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicLong;
import java.util.regex.Pattern;
import org.jspecify.annotations.Nullable;

/** The server, seen from its parent: one question at a time, each answered by a list of lines. */
final class ServerProcess implements AutoCloseable {
    /** Both are far more than the server has to say of as many parts as it takes. */
    private static final int MOST_LINE_BYTES = 1 << 16;

    private static final int MOST_ANSWER_BYTES = 1 << 17;
    private static final Pattern PLAIN = Pattern.compile("[ -~\t]*");
    private static final List<String> JAVA_OPTIONS =
            List.of("-XX:+UseSerialGC", "-XX:TieredStopAtLevel=1", "-Xmx24m", "-Xshare:auto");

    private final Process process;
    private final ChildInput server;
    /** Of at most one question, since no answer is taken that was not asked for; empty at the end of all. */
    private final BlockingQueue<Optional<List<String>>> answers = new LinkedBlockingQueue<>();

    private long questions;

    /** Number of the question that has no answer yet; 0 if there is none. */
    private final AtomicLong asked = new AtomicLong();

    private volatile String refusal = "";

    private ServerProcess(Process process) {
        this.process = process;
        SpareThread.start("gpu server reader", this::listen);
        server = new ChildInput(process, "gpu server", () -> true);
    }

    static ServerProcess start(Path library) throws IOException {
        return new ServerProcess(
                OwnProcess.start(List.of(), JAVA_OPTIONS, GpuServer.class, List.of(library.toString()), Map.of()));
    }

    private void listen() {
        try (BoundedLines in = new BoundedLines(process.getInputStream(), MOST_LINE_BYTES)) {
            listen(in);
        } catch (Refused e) {
            refusal = e.getMessage();
            process.destroyForcibly();
        } catch (IOException e) {
            // It is gone, as at the end of its output.
        }
        answers.add(Optional.empty());
    }

    private void listen(BoundedLines in) throws IOException {
        List<String> lines = new ArrayList<>();
        int bytes = 0;
        for (String line = in.readLine(); line != null; line = in.readLine()) {
            bytes += line.length() + 1;
            if (in.lastWasCut()
                    || bytes > MOST_ANSWER_BYTES
                    || !PLAIN.matcher(line).matches()) {
                throw new Refused(line);
            }
            if (!line.startsWith(GpuServer.END)) {
                lines.add(line);
                continue;
            }
            long number = asked.getAndSet(0);
            if (number == 0 || !line.equals(GpuServer.END + number)) {
                throw new Refused(line); // what answers another question would be taken for this moment's
            }
            answers.add(Optional.of(List.copyOf(lines)));
            lines.clear();
            bytes = 0;
        }
    }

    long pid() {
        return process.pid();
    }

    /** Asks without waiting; what goes wrong is seen in place of the answer. */
    void ask(String question) {
        questions++;
        asked.set(questions);
        server.say(questions + "\t" + question);
    }

    /**
     * The answer.
     *
     * @return null if none came in time
     * @throws IOException if the process has ended, or was ended for what it said, and none will ever come
     */
    @Nullable
    List<String> await(long nanos) throws IOException, InterruptedException {
        Optional<List<String>> answer = answers.poll(nanos, TimeUnit.NANOSECONDS);
        if (answer == null) {
            return null;
        }
        if (answer.isEmpty()) {
            answers.add(answer);
            throw new IOException(refusal.isEmpty() ? end() : refusal);
        }
        return answer.get();
    }

    private String end() throws InterruptedException {
        return process.waitFor(1, TimeUnit.SECONDS)
                ? "its process ended with status " + process.exitValue()
                : "its process closed its output";
    }

    /** Sends no more heartbeats, as a parent that has died or hangs. For tests. */
    void fallSilent() {
        server.fallSilent();
    }

    /** Ends it without waiting: one that hangs inside the driver may never go. */
    @Override
    public void close() {
        server.fallSilent();
        server.say("stop");
        process.destroyForcibly();
    }
}
