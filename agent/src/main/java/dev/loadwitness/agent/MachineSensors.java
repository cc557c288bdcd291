// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.common.OshiSensors;
import dev.loadwitness.agent.sensor.linux.LinuxSensors;
import java.nio.file.Path;

/** Names the sensors of this machine; the only place that does. */
final class MachineSensors {
    private MachineSensors() {}

    /** Kernel files first; OSHI for what they lack. */
    static Discovery discover() {
        return OshiSensors.completing(LinuxSensors.discover(Path.of("/")));
    }
}
