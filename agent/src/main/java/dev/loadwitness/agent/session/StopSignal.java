// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.process.MemoryFolder;
import dev.loadwitness.agent.program.Exit;
import dev.loadwitness.agent.run.Run;
import dev.loadwitness.runlog.CloseReason;
import java.io.PrintStream;
import java.time.Duration;
import java.util.concurrent.CountDownLatch;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicReference;

/** Ctrl-C, SIGTERM and SIGHUP: asks the run to end, and keeps the program alive until its log is closed. */
final class StopSignal {
    /** Whoever sends a signal twice, as a system that shuts down, waits no longer than this. */
    private static final Duration WAIT_AFTER_SIGNAL = Duration.ofSeconds(60);

    private final PrintStream out;
    private final CountDownLatch finished = new CountDownLatch(1);
    private final AtomicReference<Run> running = new AtomicReference<>();
    private volatile boolean signalled;
    private volatile boolean giveUp;
    private volatile int status = Exit.STOPPED;

    StopSignal(PrintStream out) {
        this.out = out;
    }

    /** From now on a signal is heard, until {@link #finished}. */
    void listen() {
        MemoryFolder.keepUntil(finished);
        Runtime.getRuntime().addShutdownHook(new Thread(this::stopProperly, "stop properly"));
    }

    /** The run that a signal ends. */
    void ends(Run run) {
        running.set(run);
    }

    boolean hasRun() {
        return running.get() != null;
    }

    boolean isGiven() {
        return signalled;
    }

    /** How long the log's disk is waited for: after a signal not longer than who sent it waits. */
    Duration within(Duration limit) {
        return signalled && limit.compareTo(WAIT_AFTER_SIGNAL) > 0 ? WAIT_AFTER_SIGNAL : limit;
    }

    /** Whether the waiting for the log's disk is to end. */
    boolean givesUp() {
        return giveUp;
    }

    /** The exit status that a signal must not change. */
    void status(int exit) {
        status = exit;
    }

    void finished() {
        finished.countDown();
    }

    private void stopProperly() {
        Run run = running.get();
        if (run == null || finished.getCount() == 0) {
            return; // an ordinary exit
        }
        giveUp = run.hasEnded(); // the run is over: it is the waiting for its disk that is to end
        signalled = true;
        run.requestStop(CloseReason.OPERATOR_STOP, "Ctrl-C or a signal");
        try {
            Duration most = SessionLog.CLOSE_WITHIN.plus(WAIT_AFTER_SIGNAL).plus(SessionLog.CLOSE_WITHIN);
            if (!finished.await(most.toSeconds(), TimeUnit.SECONDS)) {
                out.println("the log could not be closed in time");
            }
            // A signal would otherwise set an exit status of its own.
            MemoryFolder.removeNow();
            Runtime.getRuntime().halt(status);
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
    }
}
