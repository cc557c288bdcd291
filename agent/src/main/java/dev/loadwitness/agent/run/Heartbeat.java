// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.agent.process.SpareThread;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicLong;
import java.util.concurrent.locks.LockSupport;

/** A thread that does nothing but look at the clock: if even it stood still, the whole machine may have. */
public final class Heartbeat implements AutoCloseable {
    private static final long BEAT_NANOS = TimeUnit.MILLISECONDS.toNanos(100);

    private final AtomicLong longestGapNanos = new AtomicLong();
    private final Thread thread;
    private volatile boolean stopped;

    public Heartbeat() {
        thread = SpareThread.start("heartbeat", this::beat);
    }

    private void beat() {
        long last = System.nanoTime();
        while (!stopped) {
            LockSupport.parkNanos(BEAT_NANOS);
            long now = System.nanoTime();
            long gap = now - last;
            longestGapNanos.accumulateAndGet(gap, Math::max);
            last = now;
        }
    }

    /** The longest time between two beats since this was last asked. */
    public long takeLongestGapNanos() {
        return longestGapNanos.getAndSet(0);
    }

    @Override
    public void close() {
        stopped = true;
        LockSupport.unpark(thread);
    }
}
