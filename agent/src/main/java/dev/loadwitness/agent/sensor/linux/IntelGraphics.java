// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.KernelSource;
import dev.loadwitness.agent.sensor.linux.file.Line;
import dev.loadwitness.agent.sensor.linux.file.PciDevice;
import dev.loadwitness.agent.sensor.linux.file.SampledFile;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.agent.sensor.linux.file.Value;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/**
 * Why Intel graphics holds back: flags of the drivers i915 ({@code gt/gt*}/{@code throttle_reason_*}) and xe
 * ({@code tile*}/{@code gt*}/{@code freq0/throttle/reason_*}). Meaning of each: the commit that brought them to i915 and
 * the head of {@code xe_gt_throttle.c}.
 */
final class IntelGraphics {
    private static final Map<String, Cause> CAUSES = Map.ofEntries(
            // temperature, of the part, its memory or its voltage regulator
            Map.entry("thermal", Cause.HEAT),
            Map.entry("ratl", Cause.HEAT),
            Map.entry("vr_thermalert", Cause.HEAT),
            Map.entry("soc_thermal", Cause.HEAT),
            Map.entry("mem_thermal", Cause.HEAT),
            Map.entry("vr_thermal", Cause.HEAT),
            Map.entry("soc_avg_thermal", Cause.HEAT),
            // a signal from outside the part, which does not say why: heat elsewhere, the adapter, the battery
            Map.entry("prochot", Cause.HARDWARE_SLOWDOWN),
            // limits of power and current that the maker set
            Map.entry("pl1", Cause.POWER_CAP),
            Map.entry("pl2", Cause.POWER_CAP),
            Map.entry("pl4", Cause.POWER_CAP),
            Map.entry("iccmax", Cause.POWER_CAP),
            Map.entry("vr_tdc", Cause.POWER_CAP));

    private IntelGraphics() {}

    static List<Source> find(Path root, Ids ids) {
        List<Source> sources = new ArrayList<>();
        Ids names = new Ids();
        for (Path card : Sysfs.list(root.resolve("sys/class/drm"))) {
            Optional<PciDevice> gpu = card.getFileName().toString().matches("card\\d+")
                    ? PciDevice.at(card.resolve("device"))
                    : Optional.empty();
            if (gpu.isEmpty()) {
                continue;
            }
            Map<Cause, List<SampledFile>> flags = new EnumMap<>(Cause.class);
            Path folder = Sysfs.real(card);
            for (Path gt : Sysfs.list(folder.resolve("gt"))) {
                collect(gt, "throttle_reason_", flags);
            }
            for (Path tile : Sysfs.list(gpu.get().folder())) {
                if (tile.getFileName().toString().matches("tile\\d+")) {
                    for (Path gt : Sysfs.list(tile)) {
                        collect(gt.resolve("freq0/throttle"), "reason_", flags);
                    }
                }
            }
            if (!flags.isEmpty()) {
                sources.add(source(names.unique("drm/throttle"), gpu.get(), flags, ids));
            }
        }
        return sources;
    }

    private static void collect(Path folder, String prefix, Map<Cause, List<SampledFile>> flags) {
        for (Path file : Sysfs.list(folder)) {
            String name = file.getFileName().toString();
            Cause cause = name.startsWith(prefix) ? CAUSES.get(name.substring(prefix.length())) : null;
            if (cause != null && Files.isRegularFile(file)) {
                flags.computeIfAbsent(cause, c -> new ArrayList<>()).add(new SampledFile(file));
            }
        }
    }

    private static Source source(String name, PciDevice gpu, Map<Cause, List<SampledFile>> flags, Ids ids) {
        Role role = gpu.gpuRole();
        List<Line> lines = new ArrayList<>();
        flags.forEach((cause, files) -> lines.add(new Line(
                Channel.of(
                                ids.unique(role.word() + ".throttle." + cause.word() + ".active"),
                                Metric.THROTTLE_ACTIVE,
                                role,
                                name)
                        .withComponent(gpu.address(), files.size() + " flags of the driver")
                        .withCause(cause),
                new Any(files))));
        return new KernelSource(name, lines, gpu.runtimeStatus().map(SampledFile::new));
    }

    /** 1 while any of them is set. */
    private record Any(List<SampledFile> files) implements Value {
        @Override
        public double read() throws IOException {
            boolean any = false;
            for (int i = 0; i < files.size(); i++) {
                any |= files.get(i).number() != 0;
            }
            return any ? 1 : 0;
        }
    }
}
