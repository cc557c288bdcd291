// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.KernelSource;
import dev.loadwitness.agent.sensor.linux.file.Line;
import dev.loadwitness.agent.sensor.linux.file.SampledFile;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.function.LongSupplier;

/** Energy counters of the processor: kernel document {@code power/powercap/powercap.rst}. AMD's have the same names. */
final class Powercap {
    private final Path folder;
    private final Ids ids;
    private final LongSupplier nanoClock;
    private final List<Missing> missing = new ArrayList<>();

    Powercap(Path root, Ids ids, LongSupplier nanoClock) {
        folder = root.resolve("sys/class/powercap");
        this.ids = ids;
        this.nanoClock = nanoClock;
    }

    Optional<Source> find() {
        List<Path> zones = new ArrayList<>(Sysfs.list(folder));
        // intel-rapl-mmio shows the same counters a second time, by another way
        zones.removeIf(z -> !z.getFileName().toString().matches("intel-rapl(:\\d+)+"));
        zones.sort(Comparator.comparing((Path z) ->
                        z.getFileName().toString().chars().filter(c -> c == ':').count())
                .thenComparing(z -> z.getFileName().toString()));
        List<Line> lines = new ArrayList<>();
        String refused = "";
        for (Path zone : zones) {
            Path energy = zone.resolve("energy_uj");
            String why = Sysfs.whyUnreadable(energy);
            if (!why.isEmpty()) {
                refused = refused.isEmpty() ? why : refused;
                continue;
            }
            String name = Sysfs.text(zone.resolve("name"));
            long range = Sysfs.number(zone.resolve("max_energy_range_uj")).orElse(0);
            Channel channel = channel(name).withComponent("powercap/" + zone.getFileName(), name);
            lines.add(new Line(channel, new EnergyCounter(new SampledFile(energy), range, nanoClock)));
        }
        if (!refused.isEmpty()) {
            missing.add(new Missing(
                    "CPU energy",
                    refused,
                    "start the agent as root: the kernel has kept these counters from other users since 2020"));
        } else if (lines.isEmpty()) {
            missing.add(new Missing(
                    "CPU energy",
                    "no energy counters under "
                            + (Files.isDirectory(folder) ? "powercap/intel-rapl" : "/sys/class/powercap"),
                    "load the kernel module intel_rapl_msr; virtual machines have none"));
        }
        lines.sort(Comparator.comparing(l -> l.channel().id().startsWith("cpu.package.energy") ? 0 : 1));
        return lines.isEmpty() ? Optional.empty() : Optional.of(new KernelSource("powercap/rapl", lines));
    }

    List<Missing> missing() {
        return missing;
    }

    private Channel channel(String zone) {
        String source = "powercap/rapl";
        if (zone.startsWith("package-")) {
            return Channel.of(ids.unique("cpu.package.energy"), Metric.ENERGY, Role.CPU, source);
        }
        if (zone.equals("dram")) {
            return Channel.of(ids.unique("memory.dram.energy"), Metric.ENERGY, Role.MEMORY, source);
        }
        if (zone.equals("psys")) {
            return Channel.of(ids.unique("board.platform.energy"), Metric.ENERGY, Role.BOARD, source);
        }
        String word = Ids.word(zone).isEmpty() ? "unnamed" : Ids.word(zone);
        return Channel.of(ids.unique("cpu." + word + ".energy"), Metric.ENERGY, Role.CPU, source);
    }
}
