// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.evidence.Evidence;
import dev.loadwitness.agent.evidence.linux.LinuxEvidence;
import dev.loadwitness.agent.evidence.windows.WindowsEvidence;
import dev.loadwitness.agent.place.FileSystem;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Duration;
import java.util.Locale;

/** The evidence of the system that this runs on. */
final class MachineEvidence {
    private static final Duration LIMIT = Duration.ofSeconds(20);

    private MachineEvidence() {}

    static Evidence ofThisMachine() {
        boolean windows = System.getProperty("os.name").toLowerCase(Locale.ROOT).startsWith("windows");
        String root = System.getenv("SystemRoot");
        return windows
                ? new WindowsEvidence(Path.of(root == null ? "C:\\Windows" : root), LIMIT)
                : new LinuxEvidence(Path.of("/"), MachineEvidence::isInMemory);
    }

    private static boolean isInMemory(Path folder) {
        try {
            return FileSystem.of(folder).memory();
        } catch (IOException e) {
            return false;
        }
    }
}
