// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.evidence.Evidence;
import dev.loadwitness.agent.evidence.linux.LinuxEvidence;
import java.nio.file.Path;

/** The evidence of the system that this runs on. */
final class MachineEvidence {
    private MachineEvidence() {}

    static Evidence ofThisMachine() {
        return new LinuxEvidence(Path.of("/"));
    }
}
