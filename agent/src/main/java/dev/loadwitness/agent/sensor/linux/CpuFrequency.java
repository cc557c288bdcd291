// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.SampledFile;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalLong;

/** Mean and lowest clock over all processors: kernel document {@code admin-guide/pm/cpufreq.rst}, in kHz there. */
final class CpuFrequency implements Source {
    private static final String NAME = "cpufreq";
    private static final double HERTZ_PER_KILOHERTZ = 1e3;

    private final List<Channel> channels;
    private final SampledFile[] files;
    private final int[] processors;

    private CpuFrequency(List<Channel> channels, SampledFile[] files, int[] processors) {
        this.channels = channels;
        this.files = files;
        this.processors = processors;
    }

    static Optional<Source> find(Path root, Ids ids) {
        List<SampledFile> files = new ArrayList<>();
        List<Integer> processors = new ArrayList<>();
        long highestKilohertz = 0;
        for (Path policy : Sysfs.list(root.resolve("sys/devices/system/cpu/cpufreq"))) {
            Path current = policy.resolve("scaling_cur_freq");
            if (!policy.getFileName().toString().startsWith("policy") || !Files.isRegularFile(current)) {
                continue;
            }
            files.add(new SampledFile(current));
            String affected = Sysfs.text(policy.resolve("affected_cpus"));
            processors.add(affected.isEmpty() ? 1 : affected.split(" ", -1).length);
            OptionalLong max = Sysfs.number(policy.resolve("cpuinfo_max_freq"));
            highestKilohertz = Math.max(highestKilohertz, max.orElse(0));
        }
        if (files.isEmpty()) {
            return Optional.empty();
        }
        Map<LimitType, Double> limits =
                highestKilohertz > 0 ? Map.of(LimitType.MAX, highestKilohertz * HERTZ_PER_KILOHERTZ) : Map.of();
        List<Channel> channels = List.of(
                Channel.of(ids.unique("cpu.clock.mean"), Metric.CPU_CLOCK, Role.CPU, NAME)
                        .withComponent("system/cpu", "mean of all processors")
                        .withLimits(limits),
                Channel.of(ids.unique("cpu.clock.lowest"), Metric.CPU_CLOCK, Role.CPU, NAME)
                        .withComponent("system/cpu", "lowest of all processors")
                        .withLimits(limits));
        return Optional.of(new CpuFrequency(
                channels,
                files.toArray(SampledFile[]::new),
                processors.stream().mapToInt(Integer::intValue).toArray()));
    }

    @Override
    public String name() {
        return NAME;
    }

    @Override
    public List<Channel> channels() {
        return channels;
    }

    @Override
    public void read(double[] into, int from) throws IOException {
        double sum = 0;
        double lowest = Double.POSITIVE_INFINITY;
        int count = 0;
        IOException last = null;
        for (int i = 0; i < files.length; i++) {
            try {
                double hertz = files[i].number() * HERTZ_PER_KILOHERTZ;
                sum += hertz * processors[i];
                lowest = Math.min(lowest, hertz);
                count += processors[i];
            } catch (IOException e) {
                last = e; // a processor may be switched off; the others still count
            }
        }
        if (count == 0) {
            throw new IOException(last == null ? "no processor" : last.getMessage(), last);
        }
        into[from] = sum / count;
        into[from + 1] = lowest;
    }

    @Override
    public void close() {
        for (SampledFile file : files) {
            file.close();
        }
    }
}
