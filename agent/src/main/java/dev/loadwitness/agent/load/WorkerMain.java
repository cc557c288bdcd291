// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import dev.loadwitness.agent.load.cpu.CpuWorker;
import dev.loadwitness.agent.load.memory.MemoryWorker;
import java.io.BufferedReader;
import java.io.IOException;
import java.io.InputStreamReader;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicInteger;
import java.util.concurrent.atomic.AtomicLong;
import java.util.concurrent.locks.LockSupport;

/** Entry point of a worker process; the protocol is described with the package. */
public final class WorkerMain implements Worker.Bench {
    static final long SILENCE_NANOS = TimeUnit.SECONDS.toNanos(5);
    private static final long PROGRESS_NANOS = TimeUnit.MILLISECONDS.toNanos(200);
    private static final int MOST_ERRORS_TOLD = 100;
    private static final int EXIT_ORPHANED = 3;
    private static final int EXIT_FAILED = 4;

    private final AtomicLong verified = new AtomicLong();
    private final AtomicLong errors = new AtomicLong();
    private final AtomicInteger plants = new AtomicInteger();
    private final AtomicLong lastBeatNanos = new AtomicLong(System.nanoTime());
    private final PrintStream out = new PrintStream(System.out, false, StandardCharsets.US_ASCII);
    private volatile boolean stopped;

    private WorkerMain() {}

    /**
     * Runs a worker.
     *
     * @param args {@code cpu THREADS}, or {@code memory THREADS BYTES}
     */
    public static void main(String[] args) {
        WorkerMain main = new WorkerMain();
        main.daemon("parent", main::listen);
        main.daemon("orphan watch", main::watchParent);
        try {
            main.run(worker(args));
        } catch (OutOfMemoryError e) {
            main.fail("out of memory: " + e.getMessage());
        } catch (RuntimeException e) {
            main.fail(e.toString());
        }
        Runtime.getRuntime().halt(0);
    }

    private static Worker worker(String[] args) {
        int threads = Integer.parseInt(args[1]);
        return switch (args[0]) {
            case "cpu" -> new CpuWorker(threads);
            case "memory" -> new MemoryWorker(threads, Long.parseLong(args[2]));
            default -> throw new IllegalArgumentException("there is no load '" + args[0] + "'");
        };
    }

    private void run(Worker worker) {
        long begin = System.nanoTime();
        for (int i = 0; i < worker.threads(); i++) {
            int number = i;
            daemon("work " + i, () -> {
                try {
                    worker.work(number, this);
                } catch (OutOfMemoryError e) {
                    fail("out of memory: " + e.getMessage());
                } catch (RuntimeException e) {
                    fail(e.toString());
                }
            });
        }
        boolean ready = false;
        while (!stopped) {
            LockSupport.parkNanos(PROGRESS_NANOS);
            long right = verified.get();
            if (!ready && right > 0) {
                ready = true;
                say("ready");
            }
            say("progress " + (System.nanoTime() - begin) + " " + right + " " + errors.get());
        }
    }

    private void daemon(String name, Runnable body) {
        Thread thread = new Thread(body, name);
        thread.setDaemon(true);
        thread.start();
    }

    private void listen() {
        try (BufferedReader in = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.US_ASCII))) {
            for (String line = in.readLine(); line != null; line = in.readLine()) {
                switch (line) {
                    case "beat" -> lastBeatNanos.set(System.nanoTime());
                    case "plant" -> plants.incrementAndGet();
                    case "stop" -> Runtime.getRuntime().halt(0);
                    default -> {
                        // A newer parent may say more than this worker knows.
                    }
                }
            }
        } catch (IOException e) {
            // The parent is gone, as at the end of its stream.
        }
        Runtime.getRuntime().halt(EXIT_ORPHANED);
    }

    private void watchParent() {
        while (System.nanoTime() - lastBeatNanos.get() < SILENCE_NANOS) {
            LockSupport.parkNanos(PROGRESS_NANOS);
        }
        Runtime.getRuntime().halt(EXIT_ORPHANED);
    }

    private void fail(String why) {
        say("failed " + why);
        Runtime.getRuntime().halt(EXIT_FAILED);
    }

    private synchronized void say(String line) {
        out.print(line.replace('\n', ' ') + "\n");
        out.flush();
        if (out.checkError()) {
            Runtime.getRuntime().halt(EXIT_ORPHANED); // nobody listens any more
        }
    }

    @Override
    public boolean goesOn() {
        return !stopped;
    }

    @Override
    public void right(long units) {
        verified.addAndGet(units);
    }

    @Override
    public void wrong(String detail) {
        if (errors.incrementAndGet() <= MOST_ERRORS_TOLD) {
            say("error " + detail);
        }
    }

    @Override
    public boolean takePlant() {
        // Read first: this is asked in every unit, and a plain read costs the threads nothing.
        return plants.get() > 0 && plants.getAndUpdate(n -> Math.max(0, n - 1)) > 0;
    }

    @Override
    public void plantCaught() {
        say("planted-caught");
    }
}
