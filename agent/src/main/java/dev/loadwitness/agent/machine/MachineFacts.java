// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.machine;

import dev.loadwitness.agent.sensor.common.Inventory;
import dev.loadwitness.agent.sensor.linux.LinuxFacts;
import java.nio.file.Path;
import java.util.Collection;
import java.util.List;
import java.util.Map;
import java.util.Set;

/** Who this machine is. */
public final class MachineFacts {
    private static final Path ROOT = Path.of("/");

    private MachineFacts() {}

    /** Starts a process and takes up to 10 s, so call it before the load begins. */
    public static Inventory take(Collection<String> withhold) {
        return Inventory.take(Set.copyOf(withhold), LinuxFacts.of(ROOT));
    }

    /** By which one machine is told from another. */
    public static Map<String, String> identity() {
        return LinuxFacts.machine(ROOT);
    }

    /** What only root may read. */
    public static List<String> refused() {
        return LinuxFacts.refused(ROOT);
    }
}
