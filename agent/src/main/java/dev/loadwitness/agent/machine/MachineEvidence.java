// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.machine;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.agent.evidence.Quality;
import dev.loadwitness.agent.evidence.linux.LinuxEvidence;
import dev.loadwitness.agent.place.FileSystem;
import java.io.IOException;
import java.nio.file.Path;
import java.util.List;
import java.util.Map;

/** The evidence of the machine that this runs on. */
public final class MachineEvidence {
    private MachineEvidence() {}

    /** The facts of a {@code boot-evidence} record. */
    public static Map<String, String> gather(LastBoot last) {
        return evidence().gather(last);
    }

    /** How good the evidence would be if the machine died now. */
    public static List<Quality> quality() {
        return evidence().quality();
    }

    private static LinuxEvidence evidence() {
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
