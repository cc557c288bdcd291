// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/** Where the library may lie: absolute places that only an administrator can write to, and no others. */
final class LibraryLocation {
    private static final List<Path> LINUX = List.of(
            Path.of("/usr/lib/x86_64-linux-gnu/libnvidia-ml.so.1"),
            Path.of("/usr/lib64/libnvidia-ml.so.1"),
            Path.of("/usr/lib/libnvidia-ml.so.1"));

    /** The driver's own device, there once it is loaded; tells of a GPU on a system that hides its bus, as containers do. */
    private static final Path LINUX_DRIVER = Path.of("/dev/nvidiactl");

    private LibraryLocation() {}

    static Optional<Path> find() {
        return candidates().stream().filter(Files::isRegularFile).findFirst();
    }

    static List<Path> candidates() {
        return isWindows() ? List.of(windowsFolder().resolve("System32").resolve("nvml.dll")) : LINUX;
    }

    /** Whether a driver is at work even though no part was found on the bus. */
    static boolean driverIsThere() {
        return isWindows() || Files.exists(LINUX_DRIVER);
    }

    private static Path windowsFolder() {
        String root = System.getenv("SystemRoot");
        return Path.of(root == null ? "C:\\Windows" : root);
    }

    private static boolean isWindows() {
        return System.getProperty("os.name").toLowerCase(Locale.ROOT).startsWith("windows");
    }
}
