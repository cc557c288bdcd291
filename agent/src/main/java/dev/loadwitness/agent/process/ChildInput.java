// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import java.io.IOException;
import java.io.OutputStream;
import java.nio.charset.StandardCharsets;
import java.util.function.BooleanSupplier;

/** What a child of this program is told, line by line, and once a second that its parent lives; {@link Parent} hears it. */
public final class ChildInput {
    private static final long BEAT_MILLIS = 1000;

    private final Process process;
    private final BooleanSupplier parentIsWell;
    private volatile boolean silent;

    /**
     * Begins to beat.
     *
     * @param parentIsWell whether the child may go on; it hears no beat while that is not so
     */
    public ChildInput(Process process, String name, BooleanSupplier parentIsWell) {
        this.process = process;
        this.parentIsWell = parentIsWell;
        SpareThread.start(name + " heartbeat", this::beat);
    }

    private void beat() {
        try {
            while (process.isAlive() && !silent && (!parentIsWell.getAsBoolean() || say("beat"))) {
                Thread.sleep(BEAT_MILLIS);
            }
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
    }

    /** Whether it could be said; if not, the child is gone, which its output shows. */
    public synchronized boolean say(String line) {
        try {
            OutputStream toChild = process.getOutputStream();
            toChild.write((line + "\n").getBytes(StandardCharsets.US_ASCII));
            toChild.flush();
            return true;
        } catch (IOException e) {
            return false;
        }
    }

    /** No more beats from now on. */
    public void fallSilent() {
        silent = true;
    }
}
