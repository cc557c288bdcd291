// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Missing;
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
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.LinkedHashSet;
import java.util.List;
import java.util.Set;

/**
 * Errors that the kernel counts: of memory with check bits ({@code admin-guide/ras}, {@code mc*}/{@code ce_count}), and of
 * the PCI Express links of GPUs and the bridges above them
 * ({@code Documentation/ABI/testing/sysfs-bus-pci-devices-aer_stats}). The kernel keeps them: no device is asked.
 */
final class ErrorCounters {
    /** Some thirty lines of a name and a number. */
    private static final int AER_BYTES = 2048;

    private final Path root;
    private final Ids ids;
    private final List<Missing> missing = new ArrayList<>();

    ErrorCounters(Path root, Ids ids) {
        this.root = root;
        this.ids = ids;
    }

    List<Source> find() {
        List<Source> sources = new ArrayList<>();
        List<Line> memory = memory();
        if (!memory.isEmpty()) {
            sources.add(new KernelSource("edac", memory));
        }
        List<PciDevice> gpus = PciDevice.gpus(root);
        List<Line> links = links(gpus);
        if (!links.isEmpty()) {
            sources.add(new KernelSource("pci/aer", links));
        } else if (!gpus.isEmpty()) {
            missing.add(
                    new Missing(
                            "errors of the GPU's link",
                            "no aer_dev_* files at the GPU or its bridges",
                            "the firmware keeps error reporting to itself, or the kernel lacks it: go by the kernel's messages"));
        }
        return sources;
    }

    List<Missing> missing() {
        return missing;
    }

    private List<Line> memory() {
        List<Line> lines = new ArrayList<>();
        for (Path controller : Sysfs.list(root.resolve("sys/devices/system/edac/mc"))) {
            String name = controller.getFileName().toString();
            if (name.matches("mc\\d+")) {
                memory(lines, controller.resolve("ce_count"), name, "corrected", Metric.CORRECTED_ERRORS);
                memory(lines, controller.resolve("ue_count"), name, "uncorrected", Metric.HARDWARE_ERRORS);
            }
        }
        return lines;
    }

    private void memory(List<Line> lines, Path file, String name, String kind, Metric metric) {
        if (Files.isRegularFile(file)) {
            lines.add(new Line(
                    Channel.of(ids.unique("memory." + name + ".errors." + kind), metric, Role.MEMORY, "edac")
                            .withComponent(name, ""),
                    Value.sum(List.of(new SampledFile(file)), 1)));
        }
    }

    private List<Line> links(List<PciDevice> gpus) {
        List<Line> lines = new ArrayList<>();
        Set<String> done = new LinkedHashSet<>();
        for (PciDevice gpu : gpus) {
            link(lines, gpu, gpu.gpuRole(), gpu.gpuRole().word() + ".link", done);
            for (PciDevice bridge : gpu.bridges()) {
                link(lines, bridge, gpu.gpuRole(), "bridge.link", done);
            }
        }
        return lines;
    }

    private void link(List<Line> lines, PciDevice device, Role role, String prefix, Set<String> done) {
        Path correctable = device.folder().resolve("aer_dev_correctable");
        if (!done.add(device.address()) || !Files.isRegularFile(correctable)) {
            return;
        }
        lines.add(line(
                device,
                role,
                prefix + ".errors.corrected",
                Metric.CORRECTED_ERRORS,
                new Totals(List.of(new Total(new SampledFile(correctable, AER_BYTES), "TOTAL_ERR_COR")))));
        List<Total> uncorrected = new ArrayList<>();
        add(uncorrected, device.folder().resolve("aer_dev_nonfatal"), "TOTAL_ERR_NONFATAL");
        add(uncorrected, device.folder().resolve("aer_dev_fatal"), "TOTAL_ERR_FATAL");
        if (!uncorrected.isEmpty()) {
            lines.add(line(
                    device, role, prefix + ".errors.uncorrected", Metric.HARDWARE_ERRORS, new Totals(uncorrected)));
        }
    }

    private static void add(List<Total> totals, Path file, String name) {
        if (Files.isRegularFile(file)) {
            totals.add(new Total(new SampledFile(file, AER_BYTES), name));
        }
    }

    private Line line(PciDevice device, Role role, String id, Metric metric, Value value) {
        return new Line(
                Channel.of(ids.unique(id), metric, role, "pci/aer").withComponent(device.address(), "PCI Express"),
                value);
    }

    private record Total(SampledFile file, String name) {}

    private record Totals(List<Total> totals) implements Value {
        @Override
        public double read() throws IOException {
            long sum = 0;
            for (int i = 0; i < totals.size(); i++) {
                sum += totals.get(i).file.numberOf(totals.get(i).name);
            }
            return sum;
        }

        @Override
        public List<SampledFile> files() {
            return totals.stream().map(Total::file).toList();
        }
    }
}
