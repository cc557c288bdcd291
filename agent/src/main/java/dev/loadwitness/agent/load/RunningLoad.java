// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import dev.loadwitness.agent.load.child.WorkerMain;
import dev.loadwitness.agent.process.BoundedLines;
import dev.loadwitness.agent.process.ChildInput;
import dev.loadwitness.agent.process.Parent;
import dev.loadwitness.agent.process.SpareThread;
import dev.loadwitness.runlog.Shown;
import java.io.IOException;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.Queue;
import java.util.concurrent.LinkedBlockingQueue;
import java.util.concurrent.TimeUnit;

/** One worker process, seen from its parent. */
public final class RunningLoad implements AutoCloseable {
    private static final long STALLED_NANOS = TimeUnit.SECONDS.toNanos(10);
    /** Until its first word a worker only starts, in the lowest scheduling class: on a slow machine that takes a while. */
    private static final long STARTED_NANOS = TimeUnit.SECONDS.toNanos(60);

    /** A load that nobody has looked after for so long gets no more heartbeats: the run loop itself may hang. */
    private static final long UNATTENDED_NANOS = TimeUnit.SECONDS.toNanos(5);

    /** After a crash without a core, which is switched off. */
    private static final int JAVA_CRASHED = 1;

    /** As shells count: the number of the signal is added to this. */
    private static final int SIGNALLED = 128;

    private static final Duration GRACE = Duration.ofSeconds(1);

    private static final int LONGEST_LINE_BYTES = 64 << 10;
    private static final int LONGEST_QUOTE = 80;
    private static final int MOST_WAITING = 1000;

    /** A worker says about ten lines a second, and tells at most about three facts. */
    private static final Allowance LINES = new Allowance(1000, 100);

    private static final Allowance FACTS = new Allowance(300, 5);

    /** So many at once, and so many more with each second. */
    private record Allowance(long atOnce, long aSecond) {
        boolean covers(long count, long nanos) {
            return count <= atOnce + aSecond * TimeUnit.NANOSECONDS.toSeconds(nanos);
        }
    }

    private final Process process;
    private final Duration workWithin;
    private final ChildInput worker;
    private final long beganNanos = System.nanoTime();
    private final Queue<LoadFact> facts = new LinkedBlockingQueue<>(MOST_WAITING);
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
    /** What it said that no worker says; empty as long as it says nothing of that kind. */
    private volatile String strange = "";

    private volatile boolean plantAsked;
    private volatile String note = "";
    private boolean toldStalled;
    private boolean toldDied;

    /** @param workWithin a unit is done, right or wrong, at least this often once the load is ready */
    RunningLoad(Process process, Duration workWithin) {
        this.process = process;
        this.workWithin = workWithin;
        SpareThread.start("load reader", this::listen);
        worker = new ChildInput(process, "load", () -> System.nanoTime() - lastLookedAfterNanos < UNATTENDED_NANOS);
    }

    private void listen() {
        long lines = 0;
        long told = 0;
        long errors = 0;
        try (BoundedLines in = new BoundedLines(process.getInputStream(), LONGEST_LINE_BYTES)) {
            for (String line = in.readLine(); line != null; line = in.readLine()) {
                lastHeardNanos = System.nanoTime();
                patienceNanos = STALLED_NANOS;
                lines++;
                try {
                    long nanos = System.nanoTime() - beganNanos;
                    refuseUnless(!in.lastWasCut(), "a line is longer than " + LONGEST_LINE_BYTES + " bytes");
                    refuseUnless(LINES.covers(lines, nanos), "there are more lines than a worker ever says");
                    Optional<LoadFact> fact = hear(line);
                    if (fact.isPresent()) {
                        errors += fact.get() instanceof LoadFact.Wrong ? 1 : 0;
                        boolean fits = FACTS.covers(++told, nanos) && errors <= WorkerMain.MOST_ERRORS_TOLD;
                        refuseUnless(fits && facts.offer(fact.get()), "it tells more than a worker ever does");
                    }
                } catch (IllegalArgumentException e) {
                    refuse(line, e);
                    return;
                }
            }
        } catch (IOException e) {
            // The worker is gone; check() tells of it.
        }
    }

    private static void refuseUnless(boolean isAsItShouldBe, String why) {
        if (!isAsItShouldBe) {
            throw new IllegalArgumentException(why);
        }
    }

    /** It is ended, and nothing more that it says is read. */
    private void refuse(String line, IllegalArgumentException why) {
        String reason = why instanceof NumberFormatException ? "a number is none" : why.getMessage();
        strange = "the load's process said something that it never says: '" + Shown.line(line, LONGEST_QUOTE) + "' ("
                + reason + "); look at the graphics driver, whose code runs in it";
        process.destroyForcibly();
    }

    /** What is to be told of it, if anything. */
    private Optional<LoadFact> hear(String line) {
        int space = line.indexOf(' ');
        String first = space < 0 ? line : line.substring(0, space);
        String rest = space < 0 ? "" : line.substring(space + 1);
        switch (first) {
            case "progress" -> {
                Progress now = WorkerWords.progress(rest, progress);
                if (!ready || now.verified() != progress.verified() || now.errors() != progress.errors()) {
                    lastWorkNanos = System.nanoTime();
                }
                progress = now;
            }
            case "ready" -> {
                refuseUnless(rest.isEmpty(), "more stands after it");
                lastWorkNanos = System.nanoTime();
                ready = true;
            }
            case "planted-caught" -> {
                refuseUnless(plantAsked, "nothing was planted");
                plantCaught = true;
            }
            case "failed" -> failure = WorkerWords.text(rest);
            case "note" -> note = WorkerWords.text(rest);
            case "error" -> {
                return Optional.of(new LoadFact.Wrong(WorkerWords.text(rest)));
            }
            case "lost" -> {
                toldLost = true;
                return Optional.of(new LoadFact.Lost(WorkerWords.text(rest)));
            }
            case "level" -> {
                return Optional.of(WorkerWords.level(rest));
            }
            case "edges" -> {
                return Optional.of(WorkerWords.edges(rest));
            }
            case "tuned" -> {
                return Optional.of(WorkerWords.tuned(rest));
            }
            default -> {
                // Drivers write notes of their own to where they should not.
            }
        }
        return Optional.empty();
    }

    public long pid() {
        return process.pid();
    }

    /** True once the first unit was found right. */
    public boolean isReady() {
        return ready && strange.isEmpty();
    }

    public Progress progress() {
        return progress;
    }

    /** What the worker last said about itself, for whoever watches; empty if nothing. */
    public String note() {
        return note;
    }

    /** Tells the worker what the loaded part draws now; a reading that no part draws is kept from it. */
    public void power(double watts) {
        if (!WorkerWords.isValue(watts)) {
            return;
        }
        worker.say("power " + watts);
    }

    /** Makes a coming result wrong on purpose; {@link #plantCaught} says when it was found. */
    public void plantFault() {
        plantCaught = false;
        plantAsked = true;
        worker.say("plant");
    }

    public boolean plantCaught() {
        return plantCaught && strange.isEmpty();
    }

    /** What happened since this was last asked. Never blocks. A load that is not asked for ten seconds ends itself. */
    public List<LoadFact> check(long nowNanos) {
        lastLookedAfterNanos = System.nanoTime();
        List<LoadFact> now = new ArrayList<>();
        for (LoadFact f = facts.poll(); f != null; f = facts.poll()) {
            now.add(f);
        }
        if (!stopping && !toldDied && !strange.isEmpty()) {
            toldDied = true;
            now.add(new LoadFact.Died(strange));
        } else if (!stopping && !toldDied && !toldLost && !process.isAlive()) {
            toldDied = true;
            now.add(new LoadFact.Died("exit status " + process.exitValue() + ": "
                    + (failure.isEmpty() ? meaning(process.exitValue()) : failure)));
        } else if (!stopping && !toldStalled && !toldDied && !toldLost) {
            stalled(nowNanos).ifPresent(now::add);
            toldStalled = now.stream().anyMatch(LoadFact.Stalled.class::isInstance);
        }
        return now;
    }

    private static String meaning(int status) {
        String end;
        if (status == 0) {
            end = "it ended as if it were done, which it never is";
        } else if (status == JAVA_CRASHED) {
            end = "it crashed";
        } else if (status == Parent.EXIT_ORPHANED) {
            end = "it heard nothing from this program any more";
        } else {
            end = status > SIGNALLED ? "signal " + (status - SIGNALLED) + " ended it" : "it ended by itself";
        }
        return end + "; nobody told it to and it gave no reason: a driver's code in it may have done that";
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
        worker.fallSilent();
        worker.say("stop");
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
