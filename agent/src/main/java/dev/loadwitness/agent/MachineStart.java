// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.arm.BootStart;
import dev.loadwitness.agent.arm.linux.Systemd;
import dev.loadwitness.agent.arm.windows.ScheduledStart;
import java.nio.file.Path;
import java.util.Locale;

/** The start at boot of the system that this runs on. */
final class MachineStart {
    static final boolean WINDOWS =
            System.getProperty("os.name").toLowerCase(Locale.ROOT).startsWith("windows");

    /** What the armed state lies below; on Linux also the tree that the machine's facts are read from. */
    static final Path ROOT =
            WINDOWS ? Path.of(variable("ProgramFiles", "C:\\Program Files"), "Loadwitness armed") : Path.of("/");

    private MachineStart() {}

    static BootStart in(Path root) {
        return WINDOWS ? new ScheduledStart(root, variable("SystemRoot", "C:\\Windows")) : new Systemd(root);
    }

    private static String variable(String name, String usual) {
        String value = System.getenv(name);
        return value == null ? usual : value;
    }
}
