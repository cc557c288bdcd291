// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import java.time.Duration;
import java.util.concurrent.Callable;
import java.util.concurrent.ExecutionException;
import java.util.concurrent.FutureTask;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.TimeoutException;

/** A thread that can be spared: it may hang for good, in a driver or on a disk, and holds up no end of this program. */
public final class SpareThread {
    private SpareThread() {}

    public static Thread start(String name, Runnable body) {
        Thread thread = new Thread(body, name);
        thread.setDaemon(true);
        thread.start();
        return thread;
    }

    /**
     * Asks on one, and gives it up when the time is over.
     *
     * @throws ExecutionException with what the question threw
     */
    public static <T> T ask(String name, Duration limit, Callable<T> question)
            throws ExecutionException, TimeoutException, InterruptedException {
        FutureTask<T> answer = new FutureTask<>(question);
        start(name, answer);
        return answer.get(limit.toNanos(), TimeUnit.NANOSECONDS);
    }
}
