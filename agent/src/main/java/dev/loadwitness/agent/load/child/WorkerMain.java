// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.child;

import dev.loadwitness.agent.load.cpu.CpuWorker;
import dev.loadwitness.agent.load.gpu.GpuWorker;
import dev.loadwitness.agent.load.memory.MemoryWorker;
import dev.loadwitness.agent.load.opencl.OpenCl;
import dev.loadwitness.agent.load.opencl.OpenClException;
import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.agent.load.worker.Worker;
import dev.loadwitness.agent.process.Parent;
import dev.loadwitness.agent.process.SpareThread;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.util.List;
import java.util.Optional;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicInteger;
import java.util.concurrent.atomic.AtomicLong;
import java.util.concurrent.locks.LockSupport;
import java.util.function.Supplier;
import java.util.stream.Collectors;

/** Entry point of a worker process; the protocol is described with the package. */
public final class WorkerMain implements Worker.Bench {
    /** Lists what OpenCL offers, and ends. */
    public static final String DEVICES = "devices";

    private static final long PROGRESS_NANOS = TimeUnit.MILLISECONDS.toNanos(200);
    public static final int MOST_ERRORS_TOLD = 100;
    private static final String LACKING = "the OpenCL library lacks something that it should have: ";
    private static final int EXIT_FAILED = 4;
    static final int EXIT_LOST = 5;

    private final AtomicLong verified = new AtomicLong();
    private final AtomicLong errors = new AtomicLong();
    private final AtomicInteger plants = new AtomicInteger();
    private final long beganNanos = System.nanoTime();
    private final PrintStream out = new PrintStream(System.out, false, StandardCharsets.UTF_8);
    private volatile Optional<Worker.Power> power = Optional.empty();
    private volatile boolean stopped;

    private WorkerMain() {}

    /**
     * Runs a worker.
     *
     * @param args {@code cpu THREADS}, {@code memory THREADS BYTES}, {@code devices FIRST-PLATFORM}, or {@code gpu-… DEVICE
     *     SHARE}
     */
    public static void main(String[] args) {
        run(args, OpenCl::load);
    }

    /**
     * The same with a given library.
     *
     * @param openCl loads it, at most once
     */
    public static void run(String[] args, Supplier<OpenCl> openCl) {
        WorkerMain main = new WorkerMain();
        if (args[0].equals(DEVICES)) {
            main.devices(Integer.parseInt(args[1]), openCl);
            return;
        }
        Parent.hear(main::told).mustBeat();
        try {
            main.run(worker(args, openCl));
        } catch (OutOfMemoryError e) {
            main.fail("out of memory: " + e.getMessage());
        } catch (RuntimeException e) {
            main.fail(e.toString());
        }
        Runtime.getRuntime().halt(0);
    }

    /** Asks the drivers, which may never answer: the parent waits only so long, and where it died this ends too. */
    private void devices(int first, Supplier<OpenCl> openCl) {
        Parent.hear(this::told);
        try {
            openCl.get().find(first, new OpenCl.Finder() {
                @Override
                public void platform(int number, String name) {
                    say("platform " + number + " " + name);
                }

                @Override
                public void device(ComputeDevice device) {
                    say("device " + device.toLine());
                }

                @Override
                public void refused(String why) {
                    say("refused " + why);
                }
            });
            say("end");
        } catch (OpenClException e) {
            say("none " + e.getMessage());
        } catch (LinkageError e) {
            say("none " + LACKING + e.getMessage());
        } catch (RuntimeException e) {
            say("none " + e);
        }
        Runtime.getRuntime().halt(0);
    }

    private static Worker worker(String[] args, Supplier<OpenCl> openCl) {
        return switch (args[0]) {
            case "cpu" -> new CpuWorker(Integer.parseInt(args[1]));
            case "memory" -> new MemoryWorker(Integer.parseInt(args[1]), Long.parseLong(args[2]));
            case "gpu-core" -> gpu(GpuWorker.Kind.CORE, args, openCl);
            case "gpu-memory" -> gpu(GpuWorker.Kind.MEMORY, args, openCl);
            case "gpu-mix" -> gpu(GpuWorker.Kind.MIX, args, openCl);
            case "gpu-ramp" -> gpu(GpuWorker.Kind.RAMP, args, openCl);
            case "gpu-steps" -> gpu(GpuWorker.Kind.STEPS, args, openCl);
            default -> throw new IllegalArgumentException("there is no load '" + args[0] + "'");
        };
    }

    private static Worker gpu(GpuWorker.Kind kind, String[] args, Supplier<OpenCl> openCl) {
        return new GpuWorker(openCl, kind, args[1], Double.parseDouble(args[2]));
    }

    private void run(Worker worker) {
        long begin = beganNanos;
        for (int i = 0; i < worker.threads(); i++) {
            int number = i;
            SpareThread.start("work " + i, () -> {
                try {
                    worker.work(number, this);
                } catch (OutOfMemoryError e) {
                    fail("out of memory: " + e.getMessage());
                } catch (OpenClException e) {
                    fail(e.getMessage());
                } catch (LinkageError e) {
                    fail(LACKING + e.getMessage());
                } catch (RuntimeException e) {
                    fail(e.toString());
                }
            });
        }
        boolean ready = false;
        while (!stopped) {
            LockSupport.parkNanos(PROGRESS_NANOS);
            long right = verified.get();
            if (!ready && right > 0 && worker.isPrepared()) {
                ready = true;
                say("ready");
            }
            say("progress " + (System.nanoTime() - begin) + " " + right + " " + errors.get());
        }
    }

    private void told(String line) {
        if (line.equals("plant")) {
            plants.incrementAndGet();
        } else if (line.startsWith("power ")) {
            double watts = Double.parseDouble(line.substring("power ".length()));
            power = Optional.of(new Worker.Power(System.nanoTime(), watts));
        }
        // A newer parent may say more than this worker knows.
    }

    private void fail(String why) {
        say("failed " + why);
        Runtime.getRuntime().halt(EXIT_FAILED);
    }

    private synchronized void say(String line) {
        out.print(line.replace('\n', ' ') + "\n");
        out.flush();
        if (out.checkError()) {
            Runtime.getRuntime().halt(Parent.EXIT_ORPHANED); // nobody listens any more
        }
    }

    @Override
    public Optional<Worker.Power> power() {
        return power;
    }

    @Override
    public long beganNanos() {
        return beganNanos;
    }

    @Override
    public void level(double level, double lateSeconds) {
        say("level " + level + " " + lateSeconds);
    }

    @Override
    public void edges(double periodSeconds, double duty, double sinceSeconds, List<Long> edgesMicros) {
        say("edges " + periodSeconds + " " + duty + " " + sinceSeconds + " "
                + edgesMicros.stream().map(e -> Long.toString(e)).collect(Collectors.joining(",")));
    }

    @Override
    public void tuned(String detail, boolean ofPower, double value, boolean chosen) {
        say("tuned " + (ofPower ? "watts " : "rate ") + value + (chosen ? " chosen " : " tried ") + detail);
    }

    @Override
    public void note(String text) {
        say("note " + text);
    }

    @Override
    public void lost(String detail) {
        say("lost " + detail);
        Runtime.getRuntime().halt(EXIT_LOST);
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
