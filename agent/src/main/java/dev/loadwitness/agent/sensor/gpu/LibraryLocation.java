// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;

/** Where the library may lie: absolute places that only root can write to, and no others. */
final class LibraryLocation {
    static final List<Path> CANDIDATES = List.of(
            Path.of("/usr/lib/x86_64-linux-gnu/libnvidia-ml.so.1"),
            Path.of("/usr/lib64/libnvidia-ml.so.1"),
            Path.of("/usr/lib/libnvidia-ml.so.1"));

    /** The driver's own device, there once it is loaded; tells of a GPU on a system that hides its bus, as containers do. */
    private static final Path DRIVER = Path.of("/dev/nvidiactl");

    private LibraryLocation() {}

    static Optional<Path> find() {
        return CANDIDATES.stream().filter(Files::isRegularFile).findFirst();
    }

    /** Whether a driver is at work even though no part was found on the bus. */
    static boolean driverIsThere() {
        return Files.exists(DRIVER);
    }
}
