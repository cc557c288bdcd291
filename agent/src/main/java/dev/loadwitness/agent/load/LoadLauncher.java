// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import com.sun.management.OperatingSystemMXBean;
import dev.loadwitness.agent.process.OwnProcess;
import java.io.IOException;
import java.lang.management.ManagementFactory;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.concurrent.TimeUnit;

/** Starts worker processes: with the lowest scheduling class that the system gives, and a clean environment. */
public final class LoadLauncher {
    private static final long LEAST_LEFT_FREE_BYTES = 512L << 20;
    private static final double LEAST_LEFT_FREE_SHARE = 0.1;
    private static final List<String> IDLE_CLASS = List.of("/usr/bin/chrt", "--idle", "0");
    private static final String OWN_SESSION = "/usr/bin/setsid";
    private static final List<String> NICE = List.of("/usr/bin/nice", "-n", "19");

    private final List<String> prefix;
    private final String scheduling;

    private LoadLauncher(List<String> prefix, String scheduling) {
        this.prefix = prefix;
        this.scheduling = scheduling;
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
        if (!Files.isExecutable(Path.of(prefix.get(0)))) {
            return false;
        }
        List<String> command = new ArrayList<>(prefix);
        command.add("/bin/true");
        try {
            Process process = new ProcessBuilder(command)
                    .redirectErrorStream(true)
                    .redirectOutput(ProcessBuilder.Redirect.DISCARD)
                    .start();
            return process.waitFor(2, TimeUnit.SECONDS) && process.exitValue() == 0;
        } catch (IOException e) {
            return false;
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            return false;
        }
    }

    /** The scheduling class that workers get: {@code idle}, {@code nice 19} or {@code normal}. */
    public String scheduling() {
        return scheduling;
    }

    /** Verified arithmetic on all cores. */
    public RunningLoad cpu() throws IOException {
        return start(32 << 20, "cpu", Integer.toString(Runtime.getRuntime().availableProcessors()));
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
        return start(bytes + (64 << 20), "memory", Integer.toString(threads), Long.toString(bytes));
    }

    private static long freeBytes() throws IOException {
        Path meminfo = Path.of("/proc/meminfo");
        if (Files.isReadable(meminfo)) {
            for (String line : Files.readAllLines(meminfo, StandardCharsets.US_ASCII)) {
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

    /**
     * A terminal sends Ctrl-C to all programs in its session. A worker that dies of it before the agent has heard of it
     * would stand in the log as a load that failed.
     */
    private static List<String> ownSession() {
        return Files.isExecutable(Path.of(OWN_SESSION)) ? List.of(OWN_SESSION) : List.of();
    }

    private RunningLoad start(long directBytes, String... arguments) throws IOException {
        List<String> options =
                List.of("-XX:+UseSerialGC", "-Xmx32m", "-Xshare:auto", "-XX:MaxDirectMemorySize=" + directBytes);
        List<String> before = new ArrayList<>(ownSession());
        before.addAll(prefix);
        return new RunningLoad(OwnProcess.builder(before, options, WorkerMain.class, List.of(arguments))
                .start());
    }
}
