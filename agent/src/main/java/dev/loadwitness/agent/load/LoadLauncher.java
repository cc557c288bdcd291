// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import com.sun.management.OperatingSystemMXBean;
import java.io.File;
import java.io.IOException;
import java.lang.management.ManagementFactory;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.concurrent.TimeUnit;
import java.util.stream.Collectors;

/** Starts worker processes: with the lowest scheduling class that the system gives, and a clean environment. */
public final class LoadLauncher {
    private static final long LEAST_LEFT_FREE_BYTES = 512L << 20;
    private static final double LEAST_LEFT_FREE_SHARE = 0.1;
    private static final List<String> IDLE_CLASS = List.of("/usr/bin/chrt", "--idle", "0");
    private static final String OWN_SESSION = "/usr/bin/setsid";
    private static final List<String> NICE = List.of("/usr/bin/nice", "-n", "19");

    /** Variables that can put foreign code or foreign drivers into a process. */
    private static final List<String> SCRUBBED =
            List.of("LD_", "JAVA_", "_JAVA_", "JDK_JAVA_", "CLASSPATH", "OCL_", "OPENCL_", "CUDA_", "VK_", "GPU_");

    /** A worker leaves nothing in the machine's temporary folder, and none of its crashes a report or a core. */
    private static final List<String> NOTHING_ON_THE_DISK =
            List.of("-XX:-UsePerfData", "-XX:+ErrorFileToStderr", "-XX:-CreateCoredumpOnCrash");

    /** Where the launcher says that native libraries lie, so that none is unpacked. */
    private static final List<String> HANDED_ON = List.of("jna.boot.library.path", "jna.nounpack", "jna.nosys");

    private final Path java;
    private final String classPath;
    private final List<String> prefix;
    private final String scheduling;

    private LoadLauncher(Path java, String classPath, List<String> prefix, String scheduling) {
        this.java = java;
        this.classPath = classPath;
        this.prefix = prefix;
        this.scheduling = scheduling;
    }

    /** Starts workers with the same Java and the same classes as this program. */
    public static LoadLauncher ofThisProgram() {
        Path java = Path.of(System.getProperty("java.home"), "bin", isWindows() ? "java.exe" : "java");
        String classPath = Arrays.stream(System.getProperty("java.class.path").split(File.pathSeparator, -1))
                .map(p -> Path.of(p).toAbsolutePath().toString())
                .collect(Collectors.joining(File.pathSeparator));
        if (works(IDLE_CLASS)) {
            return new LoadLauncher(java, classPath, IDLE_CLASS, "idle");
        }
        if (works(NICE)) {
            return new LoadLauncher(java, classPath, NICE, "nice 19");
        }
        return new LoadLauncher(java, classPath, List.of(), "normal");
    }

    private static boolean isWindows() {
        return System.getProperty("os.name").toLowerCase(Locale.ROOT).startsWith("windows");
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
        List<String> command = new ArrayList<>(ownSession());
        command.addAll(prefix);
        command.add(java.toString());
        command.addAll(NOTHING_ON_THE_DISK);
        for (String name : HANDED_ON) {
            String value = System.getProperty(name);
            if (value != null) {
                command.add("-D" + name + "=" + value);
            }
        }
        command.addAll(List.of(
                "-XX:+UseSerialGC",
                "-Xmx32m",
                "-Xshare:auto",
                "-XX:-UsePerfData", // its folder would stay behind in the machine's temporary files
                "-XX:MaxDirectMemorySize=" + directBytes,
                "-cp",
                classPath,
                WorkerMain.class.getName()));
        command.addAll(List.of(arguments));
        // Java does not start in a folder that is gone, and the agent's own may lie on a stick that was pulled.
        ProcessBuilder builder = new ProcessBuilder(command)
                .directory(new File(System.getProperty("java.home")))
                .redirectError(ProcessBuilder.Redirect.DISCARD);
        builder.environment().keySet().removeIf(LoadLauncher::isScrubbed);
        return new RunningLoad(builder.start());
    }

    static boolean isScrubbed(String variable) {
        return SCRUBBED.stream().anyMatch(variable.toUpperCase(Locale.ROOT)::startsWith);
    }
}
