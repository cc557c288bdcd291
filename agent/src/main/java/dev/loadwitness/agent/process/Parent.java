// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import java.io.BufferedReader;
import java.io.IOException;
import java.io.InputStreamReader;
import java.nio.charset.StandardCharsets;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicLong;
import java.util.concurrent.locks.LockSupport;
import java.util.function.Consumer;

/**
 * The parent of this process, which says lines on its standard input, {@link ChildInput} at the other end. What ends this
 * process ends it at once, also out of a call into a driver that does not return.
 */
public final class Parent {
    /** Exit status of a process that has lost its parent. */
    public static final int EXIT_ORPHANED = 3;

    private static final long SILENCE_NANOS = TimeUnit.SECONDS.toNanos(5);
    private static final long LOOK_NANOS = TimeUnit.MILLISECONDS.toNanos(200);

    private final AtomicLong lastHeardNanos = new AtomicLong(System.nanoTime());

    private Parent() {}

    /**
     * Hears it on a thread of its own. The word {@code stop} and the end of its input end this process.
     *
     * @param told takes what else it says, without the beats
     */
    public static Parent hear(Consumer<String> told) {
        Parent parent = new Parent();
        SpareThread.start("parent", () -> parent.listen(told));
        return parent;
    }

    /** From now on its silence ends this process, too. */
    public void mustBeat() {
        SpareThread.start("orphan watch", () -> {
            while (System.nanoTime() - lastHeardNanos.get() < SILENCE_NANOS) {
                LockSupport.parkNanos(LOOK_NANOS);
            }
            Runtime.getRuntime().halt(EXIT_ORPHANED);
        });
    }

    private void listen(Consumer<String> told) {
        try (BufferedReader in = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.US_ASCII))) {
            for (String line = in.readLine(); line != null; line = in.readLine()) {
                lastHeardNanos.set(System.nanoTime());
                if (line.equals("stop")) {
                    Runtime.getRuntime().halt(0);
                } else if (!line.equals("beat")) {
                    told.accept(line);
                }
            }
        } catch (IOException e) {
            // The parent is gone, as at the end of its stream.
        }
        Runtime.getRuntime().halt(EXIT_ORPHANED);
    }
}
