// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.KernelSource;
import dev.loadwitness.agent.sensor.linux.file.Line;
import dev.loadwitness.agent.sensor.linux.file.SampledFile;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.agent.sensor.linux.file.Value;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;

/**
 * The CPU temperature of a thermal zone, for kernels without a hwmon driver for this CPU: kernel document
 * {@code driver-api/thermal/sysfs-api.rst}. Trip points are not taken as limits: anyone may have set them.
 */
final class ThermalZones {
    private static final List<String> CPU_TYPES = List.of("x86_pkg_temp", "cpu-thermal", "cpu_thermal", "TCPU");

    private ThermalZones() {}

    static Optional<Source> cpu(Path root, Ids ids) {
        List<Path> zones = Sysfs.list(root.resolve("sys/class/thermal"));
        for (String wanted : CPU_TYPES) {
            for (Path zone : zones) {
                Path temp = zone.resolve("temp");
                if (Sysfs.text(zone.resolve("type")).equals(wanted) && Files.isRegularFile(temp)) {
                    String source = "thermal/" + wanted;
                    Channel channel = Channel.of(
                                    ids.unique("cpu.package.temperature"), Metric.TEMPERATURE, Role.CPU, source)
                            .withComponent(Sysfs.devicePath(root, zone), wanted);
                    return Optional.of(new KernelSource(
                            source, List.of(new Line(channel, Value.scaled(new SampledFile(temp), 1e3, -60, 200)))));
                }
            }
        }
        return Optional.empty();
    }
}
