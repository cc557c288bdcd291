// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.machine;

import dev.loadwitness.agent.evidence.linux.LinuxEvidence;
import dev.loadwitness.agent.place.FileSystem;
import java.io.IOException;
import java.nio.file.Path;

/** The evidence of the machine that this runs on. */
public final class MachineEvidence {
    private MachineEvidence() {}

    public static LinuxEvidence ofThisMachine() {
        return new LinuxEvidence(Path.of("/"), MachineEvidence::isInMemory);
    }

    private static boolean isInMemory(Path folder) {
        try {
            return FileSystem.of(folder).memory();
        } catch (IOException e) {
            return false;
        }
    }
}
