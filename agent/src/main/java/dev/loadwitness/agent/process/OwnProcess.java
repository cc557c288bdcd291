// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import java.io.File;
import java.io.IOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Map;
import java.util.regex.Pattern;
import java.util.stream.Collectors;

/**
 * What every further process has in common. Those of this program: the same Java and classes, native code from no place that
 * another user can touch. All: an environment made here, in which nothing that could name a file is inherited, since any variable may be one that
 * makes a loader, a runtime or a driver take in foreign code.
 */
public final class OwnProcess {
    /** A child leaves nothing in the machine's temporary folder, and none of its crashes a report or a core. */
    private static final List<String> NOTHING_ON_THE_DISK =
            List.of("-XX:-UsePerfData", "-XX:+ErrorFileToStderr", "-XX:-CreateCoredumpOnCrash");

    /** Names drivers of Mesa that are off by default, and nothing that is loaded. */
    private static final String MESA_DRIVERS = "RUSTICL_ENABLE";

    private static final Pattern DRIVER_NAMES = Pattern.compile("[a-z0-9_]+([:,][a-z0-9_]+){0,20}");

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
     * Starts a process of this program, with a clean environment, errors discarded. Its death leaves no crash report in
     * the working folder, which may be the customer's.
     *
     * @param prefix what is put before Java, for example to lower its priority
     * @param options for Java, before the class path
     * @param variables what its environment has besides
     * @throws IOException if there is no safe place for what it loads, or it cannot be started
     */
    public static Process start(
            List<String> prefix,
            List<String> options,
            Class<?> main,
            List<String> arguments,
            Map<String, String> variables)
            throws IOException {
        List<String> command = new ArrayList<>(prefix);
        command.add(java().toString());
        command.addAll(options);
        command.addAll(NOTHING_ON_THE_DISK);
        Path drivers = MemoryFolder.drivers();
        command.addAll(List.of(
                "-Djna.boot.library.path=" + MemoryFolder.natives(),
                "-Djna.nounpack=true",
                "-Djna.nosys=true",
                "-Djava.io.tmpdir=" + drivers));
        command.addAll(List.of("-cp", classPath(), main.getName()));
        command.addAll(arguments);
        // Java does not start in a folder that is gone, and this program's own may lie on a stick that was pulled.
        ProcessBuilder builder = new ProcessBuilder(command)
                .directory(new File(System.getProperty("java.home")))
                .redirectError(ProcessBuilder.Redirect.DISCARD);
        builder.environment().clear();
        builder.environment().put("PATH", "/usr/sbin:/usr/bin:/sbin:/bin");
        builder.environment().put("LC_ALL", "C.UTF-8");
        builder.environment().putAll(handedOn(System.getenv()));
        // Drivers keep caches in the user's home; another user may have been named as that.
        List.of("HOME", "TMPDIR", "XDG_CACHE_HOME", "POCL_CACHE_DIR")
                .forEach(variable -> builder.environment().put(variable, drivers.toString()));
        builder.environment().putAll(variables);
        return builder.start();
    }

    /** Of this program's own environment, what a child gets too: not what could name a file. */
    static Map<String, String> handedOn(Map<String, String> own) {
        String drivers = own.getOrDefault(MESA_DRIVERS, "");
        return DRIVER_NAMES.matcher(drivers).matches() ? Map.of(MESA_DRIVERS, drivers) : Map.of();
    }
}
