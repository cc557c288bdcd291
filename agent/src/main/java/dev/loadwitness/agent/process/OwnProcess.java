// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import java.io.File;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.stream.Collectors;

/** What every further process of this program has in common: the same Java, the same classes, a clean environment. */
public final class OwnProcess {
    /** Variables that can put foreign code or foreign drivers into a process. */
    private static final List<String> SCRUBBED = List.of(
            "LD_", "JAVA_", "_JAVA_", "JDK_JAVA_", "CLASSPATH", "OCL_", "OPENCL_", "CUDA_", "VK_", "GPU_", "POCL_");

    /** A child leaves nothing in the machine's temporary folder, and none of its crashes a report or a core. */
    private static final List<String> NOTHING_ON_THE_DISK =
            List.of("-XX:-UsePerfData", "-XX:+ErrorFileToStderr", "-XX:-CreateCoredumpOnCrash");

    /** Where native code of ours is found or unpacked: a bundle sets these, and its children must obey too. */
    private static final List<String> HANDED_ON =
            List.of("jna.boot.library.path", "jna.nounpack", "jna.nosys", "jna.tmpdir", "java.io.tmpdir");

    /** Names the folder in memory that this program was copied to and runs from; absent if it runs in place. */
    public static final String MEMORY_COPY = "loadwitness.memory";

    private OwnProcess() {}

    /** The program that runs this one. */
    private static Path java() {
        return Path.of(System.getProperty("java.home"), "bin", "java");
    }

    /** This program's classes, as absolute paths. */
    private static String classPath() {
        return Arrays.stream(System.getProperty("java.class.path").split(File.pathSeparator, -1))
                .map(p -> Path.of(p).toAbsolutePath().toString())
                .collect(Collectors.joining(File.pathSeparator));
    }

    /**
     * A builder for a process of this program, with a clean environment, errors discarded. Its death leaves no crash
     * report in the working folder, which may be the customer's.
     *
     * @param prefix what is put before Java, for example to lower its priority
     * @param options for Java, before the class path
     */
    public static ProcessBuilder builder(
            List<String> prefix, List<String> options, Class<?> main, List<String> arguments) {
        List<String> command = new ArrayList<>(prefix);
        command.add(java().toString());
        command.addAll(options);
        command.addAll(NOTHING_ON_THE_DISK);
        for (String property : HANDED_ON) {
            String value = System.getProperty(property);
            if (value != null) {
                command.add("-D" + property + "=" + value);
            }
        }
        command.addAll(List.of("-cp", classPath(), main.getName()));
        command.addAll(arguments);
        // Java does not start in a folder that is gone, and this program's own may lie on a stick that was pulled.
        ProcessBuilder builder = new ProcessBuilder(command)
                .directory(new File(System.getProperty("java.home")))
                .redirectError(ProcessBuilder.Redirect.DISCARD);
        builder.environment().keySet().removeIf(OwnProcess::isScrubbed);
        return builder;
    }

    /** Whether a variable is kept from children. */
    public static boolean isScrubbed(String variable) {
        return SCRUBBED.stream().anyMatch(variable.toUpperCase(Locale.ROOT)::startsWith);
    }
}
