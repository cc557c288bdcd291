// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.machine;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Wake;
import dev.loadwitness.agent.sensor.gpu.GpuSensors;
import dev.loadwitness.agent.sensor.linux.LinuxSensors;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Procedure;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;
import java.util.function.UnaryOperator;

/** Names the sensors of this machine; the only place that does. */
public final class MachineSensors {
    private static final Path ROOT = Path.of("/");

    private MachineSensors() {}

    /**
     * Kernel files first; the GPU maker's library; the kernel's messages.
     *
     * @param scrub takes out of a text what is withheld
     */
    public static Discovery discover(Wake wake, UnaryOperator<String> scrub) {
        Discovery files = LinuxSensors.discover(ROOT);
        Discovery withGpus = GpuSensors.completing(files, LinuxSensors.graphicsParts(ROOT), wake);
        return withGpus.and(LinuxSensors.kernelLog(ROOT, scrub));
    }

    /**
     * Keeps watch over the devices on the buses.
     *
     * @param own where the log and this program lie: a stick that holds them is not the machine's
     * @param scrub takes out of a text what is withheld
     */
    public static Discovery devices(List<Path> own, UnaryOperator<String> scrub) {
        return LinuxSensors.devices(ROOT, own, scrub);
    }

    /** Whether the graphics part at that PCI address is discrete or part of the processor; empty if the kernel does not tell. */
    public static Optional<Role> gpuRole(String pciAddress) {
        return LinuxSensors.gpuRole(ROOT, pciAddress);
    }

    /** Only a stage on the discrete GPU may wake it. Without any load of ours, one that is awake is looked at. */
    public static Wake wake(Procedure procedure) {
        if (procedure.requiredDevices().contains(Role.GPU_DISCRETE)) {
            return Wake.WHEN_ALLOWED;
        }
        return procedure.stages().stream().allMatch(s -> s.loads().isEmpty()) ? Wake.IF_AWAKE : Wake.NEVER;
    }
}
