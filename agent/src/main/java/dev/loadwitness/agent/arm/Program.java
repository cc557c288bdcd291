// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.process.OwnProcess;
import java.io.File;
import java.lang.management.ManagementFactory;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;
import java.util.stream.Stream;

/**
 * This program as it is to be started at boot.
 *
 * @param jar the whole program
 * @param java the Java home that it runs on
 * @param ownJava whether that belongs to the program and is copied with it; else it is the system's
 * @param natives folder of native code that is not in the jar
 * @param flags of the Java machine
 */
public record Program(Path jar, Path java, boolean ownJava, Optional<Path> natives, List<String> flags) {
    public Program {
        requireNonNull(jar, "jar");
        requireNonNull(java, "java");
        requireNonNull(natives, "natives");
        flags = List.copyOf(flags);
    }

    /**
     * The one that this process runs.
     *
     * @throws ArmException if it is not in one jar
     */
    public static Program ofThisProcess() throws ArmException {
        Path jar = Path.of(OwnProcess.classPath());
        if (OwnProcess.classPath().contains(File.pathSeparator) || !Files.isRegularFile(jar)) {
            throw new ArmException(
                    ArmException.Kind.SYSTEM,
                    "only the jar, the bundle or the package can be armed; this program runs from " + jar);
        }
        Path java = Path.of(System.getProperty("java.home"));
        boolean own = Stream.of("loadwitness.home", OwnProcess.MEMORY_COPY)
                .flatMap(name -> Optional.ofNullable(System.getProperty(name)).stream())
                .anyMatch(folder -> !folder.isBlank() && java.startsWith(Path.of(folder)));
        List<String> flags = ManagementFactory.getRuntimeMXBean().getInputArguments().stream()
                .filter(f -> f.matches("-X(X:[+-]?[A-Za-z0-9]+(=[A-Za-z0-9]+)?|m[sx][0-9]+[kmgKMG]?|share:auto)"))
                .toList();
        Optional<Path> natives = Optional.ofNullable(System.getProperty("jna.boot.library.path"))
                .filter(n -> !n.isBlank())
                .map(Path::of);
        return new Program(jar, java, own, natives, flags);
    }
}
