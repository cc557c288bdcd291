// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import com.sun.management.OperatingSystemMXBean;
import dev.loadwitness.agent.load.child.WorkerMain;
import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.agent.process.BoundedLines;
import dev.loadwitness.agent.process.OwnProcess;
import dev.loadwitness.agent.process.SpareThread;
import dev.loadwitness.agent.process.SystemProgram;
import dev.loadwitness.runlog.disk.KernelFile;
import dev.loadwitness.runlog.procedure.LoadKind;
import java.io.IOException;
import java.lang.management.ManagementFactory;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Queue;
import java.util.concurrent.LinkedBlockingQueue;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicBoolean;

/** Starts worker processes: with the lowest scheduling class that the system gives, and a clean environment. */
public final class LoadLauncher {
    private static final long LEAST_LEFT_FREE_BYTES = 512L << 20;
    private static final double LEAST_LEFT_FREE_SHARE = 0.1;
    private static final List<String> IDLE_CLASS = List.of("/usr/bin/chrt", "--idle", "0");
    private static final String OWN_SESSION = "/usr/bin/setsid";
    private static final List<String> NICE = List.of("/usr/bin/nice", "-n", "19");

    /** Keeps drivers from leaving compiled programs behind on a customer's disk. */
    private static final Map<String, String> NOTHING_LEFT_BEHIND = Map.of(
            "CUDA_CACHE_DISABLE", "1",
            "POCL_KERNEL_CACHE", "0",
            "AMD_COMGR_CACHE", "0",
            "NEO_CACHE_PERSISTENT", "0");

    /** Drivers that wake a sleeping device take seconds; one that takes longer is broken. */
    private static final Duration LISTING = Duration.ofSeconds(30);

    /** What a driver may cost those after it. */
    private static final int MOST_LISTINGS = 4;

    private static final int MOST_LINES = 1000;
    private static final int LONGEST_LINE_BYTES = 8 << 10;

    private static final double OWN_MEMORY_SHARE = 0.8;
    private static final double SHARED_MEMORY_SHARE = 0.25;

    /** A unit takes milliseconds; in the lowest scheduling class, on a busy machine, much longer. */
    private static final Duration CPU_WORKS_WITHIN = Duration.ofMinutes(1);

    /** A unit counts when its region of 128 MiB went through all backgrounds. */
    private static final Duration MEMORY_WORKS_WITHIN = Duration.ofMinutes(10);

    /** Longer than the worker itself waits for a launch, since its word for what happened says more. */
    private static final Duration GPU_WORKS_WITHIN = Duration.ofSeconds(30);

    private final List<String> prefix;
    private final String scheduling;
    private final Class<?> worker;
    private final List<String> toldFirst;

    private LoadLauncher(List<String> prefix, String scheduling) {
        this(prefix, scheduling, WorkerMain.class, List.of());
    }

    /**
     * The same with other workers.
     *
     * @param toldFirst what these are told before all else
     */
    LoadLauncher(List<String> prefix, String scheduling, Class<?> worker, List<String> toldFirst) {
        this.prefix = prefix;
        this.scheduling = scheduling;
        this.worker = worker;
        this.toldFirst = toldFirst;
    }

    /** Starts workers with the same Java and the same classes as this program. */
    public static LoadLauncher ofThisProgram() {
        if (works(IDLE_CLASS)) {
            return new LoadLauncher(IDLE_CLASS, "idle");
        }
        if (works(NICE)) {
            return new LoadLauncher(NICE, "nice 19");
        }
        return new LoadLauncher(List.of(), "normal");
    }

    private static boolean works(List<String> prefix) {
        List<String> command = new ArrayList<>(prefix);
        command.add("/bin/true");
        try {
            return !SystemProgram.ask(command, 0, Duration.ofSeconds(2)).failed();
        } catch (IOException e) {
            return false;
        }
    }

    /** The scheduling class that workers get: {@code idle}, {@code nice 19} or {@code normal}. */
    public String scheduling() {
        return scheduling;
    }

    /** Verified arithmetic on all cores. */
    public RunningLoad cpu() throws IOException {
        return start(
                CPU_WORKS_WITHIN,
                32 << 20,
                "cpu",
                Integer.toString(Runtime.getRuntime().availableProcessors()));
    }

    /**
     * The march test over a share of the memory that is free now. At least 512 MiB and a tenth of it stay free.
     *
     * @throws IOException if that leaves too little to test, or the process cannot be started
     */
    public RunningLoad memory(double share) throws IOException {
        long free = freeBytes();
        long most = free - Math.max(LEAST_LEFT_FREE_BYTES, (long) (free * LEAST_LEFT_FREE_SHARE));
        long bytes = Math.min((long) (free * share), most);
        int threads = Runtime.getRuntime().availableProcessors();
        if (bytes < (long) threads << 20) {
            throw new IOException("only " + (free >> 20) + " MiB of memory are free; too little to test");
        }
        return start(
                MEMORY_WORKS_WITHIN, bytes + (64 << 20), "memory", Integer.toString(threads), Long.toString(bytes));
    }

    /**
     * What OpenCL offers on this machine, asked by a process of its own.
     *
     * @param problem why nothing, or less than all, is listed; empty if all went well
     */
    public record Listing(List<ComputeDevice> devices, String problem) {
        public Listing {
            devices = List.copyOf(devices);
        }
    }

    /** Asks all OpenCL drivers what they offer. A sleeping graphics part may be woken by that. */
    public Listing devices() throws InterruptedException {
        return devices(LISTING);
    }

    /** A driver that takes longer than that, or takes the process that asks down, costs its own devices. */
    Listing devices(Duration longest) throws InterruptedException {
        DeviceLines said = new DeviceLines();
        for (int i = 0; i < MOST_LISTINGS && !said.isComplete(); i++) {
            int first = said.nextPlatform();
            try {
                ask(said, first, longest);
            } catch (IOException e) {
                said.failed("could not be asked: " + e.getMessage());
            }
            if (said.nextPlatform() == first) {
                break; // it would end in the same way
            }
        }
        return said.listing();
    }

    private void ask(DeviceLines said, int firstPlatform, Duration longest) throws IOException, InterruptedException {
        Process process = process(32 << 20, WorkerMain.DEVICES, Integer.toString(firstPlatform));
        Queue<String> lines = new LinkedBlockingQueue<>(MOST_LINES);
        AtomicBoolean tooMuch = new AtomicBoolean();
        Thread reader = SpareThread.start("device listing", () -> {
            try (BoundedLines in = new BoundedLines(process.getInputStream(), LONGEST_LINE_BYTES)) {
                for (String line = in.readLine(); line != null; line = in.readLine()) {
                    if (in.lastWasCut() || !lines.offer(line)) {
                        tooMuch.set(true);
                        process.destroyForcibly();
                    }
                }
            } catch (IOException e) {
                // What came before is what there is.
            }
        });
        boolean ended;
        try {
            // Its input stays open: its end would say that nobody waits any more.
            ended = process.waitFor(longest.toMillis(), TimeUnit.MILLISECONDS);
            reader.join(TimeUnit.SECONDS.toMillis(1));
        } finally {
            process.destroyForcibly();
        }
        List.copyOf(lines).forEach(said::hear);
        if (tooMuch.get()) {
            said.failed("made the process that asked it say more than any that lists devices, so that it was ended");
        } else if (!ended) {
            said.failed("gave no answer within " + longest.toSeconds() + " s");
        } else {
            said.failed("brought down the process that asked it, with status " + process.exitValue());
        }
    }

    /**
     * A load for a graphics part.
     *
     * @param memoryShare of the device's memory that the memory load tests; 0 for what is usual
     */
    public RunningLoad gpu(LoadKind kind, ComputeDevice device, double memoryShare) throws IOException {
        double share = memoryShare > 0 ? memoryShare : device.hostMemory() ? SHARED_MEMORY_SHARE : OWN_MEMORY_SHARE;
        if (device.hostMemory()) {
            double free = freeBytes();
            double most = free - Math.max(LEAST_LEFT_FREE_BYTES, free * LEAST_LEFT_FREE_SHARE);
            double bytes = Math.min(share * Math.min(free, (double) device.memoryBytes()), most);
            share = Math.max(0, bytes) / device.memoryBytes();
        }
        return start(GPU_WORKS_WITHIN, 128 << 20, kind.word(), device.key(), Double.toString(share));
    }

    private static long freeBytes() throws IOException {
        Path meminfo = Path.of("/proc/meminfo");
        if (Files.isReadable(meminfo)) {
            for (String line : KernelFile.text(meminfo).lines().toList()) {
                if (line.startsWith("MemAvailable:")) {
                    return Long.parseLong(line.replaceAll("[^0-9]", "")) << 10;
                }
            }
        }
        if (ManagementFactory.getOperatingSystemMXBean() instanceof OperatingSystemMXBean system) {
            return system.getFreeMemorySize();
        }
        throw new IOException("this system does not say how much memory is free");
    }

    private RunningLoad start(Duration workWithin, long directBytes, String... arguments) throws IOException {
        return new RunningLoad(process(directBytes, arguments), workWithin);
    }

    private Process process(long directBytes, String... arguments) throws IOException {
        List<String> options =
                List.of("-XX:+UseSerialGC", "-Xmx32m", "-Xshare:auto", "-XX:MaxDirectMemorySize=" + directBytes);
        List<String> before = new ArrayList<>(ownSession());
        before.addAll(prefix);
        List<String> told = new ArrayList<>(toldFirst);
        told.addAll(List.of(arguments));
        return OwnProcess.start(before, options, worker, told, NOTHING_LEFT_BEHIND);
    }

    /**
     * A terminal sends Ctrl-C to all programs in its session. A worker that dies of it before the agent has heard of it
     * would stand in the log as a load that failed.
     */
    private static List<String> ownSession() {
        return Files.isExecutable(Path.of(OWN_SESSION)) ? List.of(OWN_SESSION) : List.of();
    }
}
