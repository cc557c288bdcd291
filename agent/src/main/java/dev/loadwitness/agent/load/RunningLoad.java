// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import java.io.BufferedReader;
import java.io.IOException;
import java.io.OutputStream;
import java.nio.charset.StandardCharsets;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.Queue;
import java.util.concurrent.ConcurrentLinkedQueue;
import java.util.concurrent.TimeUnit;

/** One worker process, seen from its parent. */
public final class RunningLoad implements AutoCloseable {
    private static final long BEAT_MILLIS = 1000;
    private static final long STALLED_NANOS = TimeUnit.SECONDS.toNanos(10);
    /** Until its first word a worker only starts, in the lowest scheduling class: on a slow machine that takes a while. */
    private static final long STARTED_NANOS = TimeUnit.SECONDS.toNanos(60);

    /** A load that nobody has looked after for so long gets no more heartbeats: the run loop itself may hang. */
    private static final long UNATTENDED_NANOS = TimeUnit.SECONDS.toNanos(5);

    private static final Duration GRACE = Duration.ofSeconds(1);

    private final Process process;
    private final Duration workWithin;
    private final OutputStream toWorker;
    private final Queue<LoadFact> facts = new ConcurrentLinkedQueue<>();
    private volatile Progress progress = Progress.NONE;
    private volatile long lastHeardNanos = System.nanoTime();
    private volatile long lastWorkNanos = System.nanoTime();
    private volatile long patienceNanos = STARTED_NANOS;
    private volatile long lastLookedAfterNanos = System.nanoTime();
    private volatile boolean ready;
    private volatile boolean plantCaught;
    private volatile boolean stopping;
    private volatile boolean toldLost;
    private volatile String failure = "";
    private volatile String note = "";
    private boolean toldStalled;
    private boolean toldDied;

    /** @param workWithin a unit is done, right or wrong, at least this often once the load is ready */
    RunningLoad(Process process, Duration workWithin) {
        this.process = process;
        this.workWithin = workWithin;
        this.toWorker = process.getOutputStream();
        daemon("load reader", this::listen);
        daemon("load heartbeat", this::beat);
    }

    private static void daemon(String name, Runnable body) {
        Thread thread = new Thread(body, name);
        thread.setDaemon(true);
        thread.start();
    }

    private void listen() {
        try (BufferedReader in = process.inputReader(StandardCharsets.UTF_8)) {
            for (String line = in.readLine(); line != null; line = in.readLine()) {
                lastHeardNanos = System.nanoTime();
                patienceNanos = STALLED_NANOS;
                hear(line);
            }
        } catch (IOException e) {
            // The worker is gone; check() tells of it.
        }
    }

    private void hear(String line) {
        if (line.startsWith("progress ")) {
            String[] p = line.split(" ", -1);
            Progress now = new Progress(Long.parseLong(p[1]), Long.parseLong(p[2]), Long.parseLong(p[3]));
            if (!ready || now.verified() != progress.verified() || now.errors() != progress.errors()) {
                lastWorkNanos = System.nanoTime();
            }
            progress = now;
        } else if (line.equals("ready")) {
            lastWorkNanos = System.nanoTime();
            ready = true;
        } else if (line.equals("planted-caught")) {
            plantCaught = true;
        } else if (line.startsWith("error ")) {
            facts.add(new LoadFact.Wrong(line.substring("error ".length())));
        } else if (line.startsWith("failed ")) {
            failure = line.substring("failed ".length());
        } else if (line.startsWith("lost ")) {
            facts.add(new LoadFact.Lost(line.substring("lost ".length())));
            toldLost = true;
        } else if (line.startsWith("level ")) {
            String[] p = line.split(" ", -1);
            facts.add(new LoadFact.Level(Double.parseDouble(p[1]), Double.parseDouble(p[2])));
        } else if (line.startsWith("edges ")) {
            String[] p = line.split(" ", -1);
            facts.add(new LoadFact.Edges(
                    Double.parseDouble(p[1]), Double.parseDouble(p[2]), Double.parseDouble(p[3]), p[4]));
        } else if (line.startsWith("tuned ")) {
            String[] p = line.split(" ", 5);
            facts.add(new LoadFact.Tuned(p[4], p[1].equals("watts"), Double.parseDouble(p[2]), p[3].equals("chosen")));
        } else if (line.startsWith("note ")) {
            note = line.substring("note ".length());
        }
    }

    private void beat() {
        try {
            while (process.isAlive() && !stopping) {
                if (System.nanoTime() - lastLookedAfterNanos < UNATTENDED_NANOS) {
                    say("beat");
                }
                Thread.sleep(BEAT_MILLIS);
            }
        } catch (IOException e) {
            // The worker is gone; check() tells of it.
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
    }

    private void say(String line) throws IOException {
        synchronized (toWorker) {
            toWorker.write((line + "\n").getBytes(StandardCharsets.US_ASCII));
            toWorker.flush();
        }
    }

    public long pid() {
        return process.pid();
    }

    /** True once the first unit was found right. */
    public boolean isReady() {
        return ready;
    }

    public Progress progress() {
        return progress;
    }

    /** What the worker last said about itself, for whoever watches; empty if nothing. */
    public String note() {
        return note;
    }

    /** Tells the worker what the loaded part draws now. */
    public void power(double watts) {
        try {
            say("power " + watts);
        } catch (IOException e) {
            // The worker is gone; check() tells of it.
        }
    }

    /** Makes a coming result wrong on purpose; {@link #plantCaught} says when it was found. */
    public void plantFault() {
        plantCaught = false;
        try {
            say("plant");
        } catch (IOException e) {
            // The worker is gone; check() tells of it.
        }
    }

    public boolean plantCaught() {
        return plantCaught;
    }

    /** What happened since this was last asked. Never blocks. A load that is not asked for ten seconds ends itself. */
    public List<LoadFact> check(long nowNanos) {
        lastLookedAfterNanos = System.nanoTime();
        List<LoadFact> now = new ArrayList<>();
        for (LoadFact f = facts.poll(); f != null; f = facts.poll()) {
            now.add(f);
        }
        if (!stopping && !toldDied && !toldLost && !process.isAlive()) {
            toldDied = true;
            now.add(new LoadFact.Died(
                    "exit status " + process.exitValue() + (failure.isEmpty() ? "" : ": " + failure)));
        } else if (!stopping && !toldStalled && !toldDied && !toldLost) {
            stalled(nowNanos).ifPresent(now::add);
            toldStalled = now.stream().anyMatch(LoadFact.Stalled.class::isInstance);
        }
        return now;
    }

    /** A call into a driver that never returns stops the work, while the thread that tells of progress goes on. */
    private Optional<LoadFact> stalled(long nowNanos) {
        long silent = nowNanos - lastHeardNanos;
        long idle = nowNanos - lastWorkNanos;
        if (silent > patienceNanos) {
            return Optional.of(new LoadFact.Stalled(Duration.ofNanos(silent), "it says nothing"));
        }
        return ready && idle > workWithin.toNanos()
                ? Optional.of(new LoadFact.Stalled(
                        Duration.ofNanos(idle), "it says that it goes on, but no work is done; " + progress))
                : Optional.empty();
    }

    /** Takes the load off: asks, then ends the process. Returns when nothing of it is left, or after two seconds. */
    @Override
    public void close() {
        stopping = true;
        try {
            say("stop");
        } catch (IOException e) {
            // Already gone.
        }
        try {
            if (!process.waitFor(GRACE.toMillis(), TimeUnit.MILLISECONDS)) {
                // One that the kernel does not let go of, in a call of a faulty driver, must not hold us up as well.
                process.destroyForcibly().waitFor(GRACE.toMillis(), TimeUnit.MILLISECONDS);
            }
        } catch (InterruptedException e) {
            process.destroyForcibly();
            Thread.currentThread().interrupt();
        }
    }
}
