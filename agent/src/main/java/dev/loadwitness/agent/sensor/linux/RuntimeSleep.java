// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.GraphicsPart;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.KernelSource;
import dev.loadwitness.agent.sensor.linux.file.Line;
import dev.loadwitness.agent.sensor.linux.file.PciDevice;
import dev.loadwitness.agent.sensor.linux.file.SampledFile;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.agent.sensor.linux.file.Value;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/**
 * What the kernel knows of a device's sleep, which it tells without asking the device:
 * {@code Documentation/ABI/testing/sysfs-devices-power}.
 */
final class RuntimeSleep implements GraphicsPart.Sleep {
    private static final String SOURCE = "pci/runtime_status";

    private final Path folder;

    /** @param folder the device's own {@code power} */
    RuntimeSleep(Path folder) {
        this.folder = folder;
    }

    @Override
    public boolean isAsleep() {
        String status = Sysfs.text(folder.resolve("runtime_status"));
        // "suspended" and "suspending"; where it cannot be read although it is there, sleep cannot be excluded
        return status.startsWith("suspend") || (status.isEmpty() && Files.exists(folder.resolve("runtime_status")));
    }

    /** A part that may sleep but never has since this boot is taken for one that does not: desktops are like that. */
    @Override
    public boolean isDisturbedByAsking() {
        if (isAsleep()) {
            return true;
        }
        boolean maySleep = Sysfs.text(folder.resolve("control")).equals("auto");
        return maySleep
                && Sysfs.number(folder.resolve("runtime_suspended_time")).orElse(0) > 0;
    }

    /** Which GPUs are awake: of those for which the kernel tells. */
    static Optional<Source> find(Path root, Ids ids) {
        List<Line> lines = new ArrayList<>();
        for (PciDevice gpu : PciDevice.gpus(root)) {
            Optional<Path> status = gpu.runtimeStatus();
            if (status.isPresent()) {
                Channel channel = Channel.of(
                                ids.unique(gpu.gpuRole().word() + ".awake"), Metric.DEVICE_AWAKE, gpu.gpuRole(), SOURCE)
                        .withComponent(gpu.address(), "");
                lines.add(new Line(channel, new Awake(new SampledFile(status.get()))));
            }
        }
        return lines.isEmpty() ? Optional.empty() : Optional.of(new KernelSource(SOURCE, lines));
    }

    private record Awake(SampledFile status) implements Value {
        @Override
        public double read() throws IOException {
            return status.startsWith("suspend") ? 0 : 1;
        }

        @Override
        public List<SampledFile> files() {
            return List.of(status);
        }
    }
}
