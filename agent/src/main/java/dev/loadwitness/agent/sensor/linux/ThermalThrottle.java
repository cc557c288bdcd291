// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.KernelSource;
import dev.loadwitness.agent.sensor.linux.file.Line;
import dev.loadwitness.agent.sensor.linux.file.SampledFile;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.agent.sensor.linux.file.Value;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/**
 * How often and how long an Intel processor slowed down for heat: {@code cpuN/thermal_throttle}. Every processor of a
 * package shows the package's counts, so one of them is read; of the threads of a core one is read, and the cores are
 * added up.
 */
final class ThermalThrottle {
    private static final String SOURCE = "cpu/thermal_throttle";
    private static final double MILLISECONDS_PER_SECOND = 1e3;

    private ThermalThrottle() {}

    static Optional<Source> find(Path root, Ids ids) {
        Map<String, Path> packages = new LinkedHashMap<>();
        Map<String, Path> cores = new LinkedHashMap<>();
        for (Path cpu : Sysfs.list(root.resolve("sys/devices/system/cpu"))) {
            Path folder = cpu.resolve("thermal_throttle");
            if (!cpu.getFileName().toString().matches("cpu\\d+") || !Files.isDirectory(folder)) {
                continue;
            }
            String packageId = Sysfs.text(cpu.resolve("topology/physical_package_id"));
            String coreId = Sysfs.text(cpu.resolve("topology/core_id"));
            packages.putIfAbsent(packageId, folder);
            cores.putIfAbsent(packageId + ":" + (coreId.isEmpty() ? cpu.getFileName() : coreId), folder);
        }
        List<Line> lines = new ArrayList<>();
        packages.forEach((id, folder) -> {
            add(lines, ids, "cpu.package.throttle", "package " + id, "package_throttle", List.of(folder));
        });
        add(lines, ids, "cpu.cores.throttle", "all cores", "core_throttle", List.copyOf(cores.values()));
        return lines.isEmpty() ? Optional.empty() : Optional.of(new KernelSource(SOURCE, lines));
    }

    private static void add(List<Line> lines, Ids ids, String id, String label, String file, List<Path> folders) {
        List<SampledFile> counts = files(folders, file + "_count");
        if (!counts.isEmpty()) {
            lines.add(new Line(channel(ids.unique(id + ".count"), Metric.THROTTLE_COUNT, label), Value.sum(counts, 1)));
        }
        List<SampledFile> times = files(folders, file + "_total_time_ms");
        if (!times.isEmpty()) {
            lines.add(new Line(
                    channel(ids.unique(id + ".time"), Metric.THROTTLE_TIME, label)
                            .withQuality(1 / MILLISECONDS_PER_SECOND, Double.NaN),
                    Value.sum(times, MILLISECONDS_PER_SECOND)));
        }
    }

    private static List<SampledFile> files(List<Path> folders, String name) {
        return folders.stream()
                .map(f -> f.resolve(name))
                .filter(Files::isRegularFile)
                .map(SampledFile::new)
                .toList();
    }

    private static Channel channel(String id, Metric metric, String label) {
        return Channel.of(id, metric, Role.CPU, SOURCE)
                .withComponent("system/cpu", label)
                .withCause(Cause.HEAT);
    }
}
