// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Greeting;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.KernelSource;
import dev.loadwitness.agent.sensor.linux.file.Line;
import dev.loadwitness.agent.sensor.linux.file.PciDevice;
import dev.loadwitness.agent.sensor.linux.file.SampledFile;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.agent.sensor.linux.file.Value;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.EnumMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalLong;
import java.util.Set;
import java.util.TreeSet;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/**
 * The chips under {@code /sys/class/hwmon}. Units and names: kernel document {@code hwmon/sysfs-interface.rst}; what
 * each driver's limits mean: {@code docs/sensors.md}.
 */
final class Hwmon {
    private static final Set<String> CPU_DRIVERS =
            Set.of("coretemp", "k10temp", "zenpower", "fam15h_power", "amd_energy", "via_cputemp", "cpu_thermal");
    private static final Set<String> GPU_DRIVERS = Set.of("amdgpu", "radeon", "nouveau", "i915", "xe");
    private static final Set<String> MEMORY_DRIVERS = Set.of("jc42", "spd5118");
    private static final Set<String> STORAGE_DRIVERS = Set.of("nvme", "drivetemp");
    private static final Pattern CLOCK_LEVEL = Pattern.compile("\\b(\\d{2,5})Mhz\\b");
    private static final Pattern NETWORK_DRIVER =
            Pattern.compile("(iwlwifi|ath\\d+k|mt79|rtw|r8169|phy|enp|eth|e1000|ixgbe).*");
    /** The kinds of files that are read, in the order of their channels; {@link #line} has a rule for each. */
    private static final List<String> KINDS = List.of("temp", "power", "energy", "freq", "fan", "in");

    private static final Pattern ATTRIBUTE = Pattern.compile("(" + String.join("|", KINDS) + ")(\\d+)_(input|average)");
    private static final Pattern PACKAGE = Pattern.compile("(?:Package|Physical) id (\\d+)");
    private static final Pattern CORE = Pattern.compile("Core (\\d+)");

    private static final double COLDEST_CELSIUS = -60;
    private static final double HOTTEST_CELSIUS = 200;
    private static final double LOWEST_LIMIT_CELSIUS = 20;
    private static final double HIGHEST_LIMIT_CELSIUS = 150;
    private static final double FASTEST_RPM = 30_000;

    private final Path root;
    private final Ids ids;
    private final Ids prefixes = new Ids();
    private final Ids sourceNames = new Ids();
    private final List<Missing> missing = new ArrayList<>();

    Hwmon(Path root, Ids ids) {
        this.root = root;
        this.ids = ids;
    }

    /** One chip, before its files have been looked at. */
    private record Chip(Path folder, String driver, String component, Optional<PciDevice> pci) {
        Path device() {
            return folder.resolve("device");
        }
    }

    List<Source> find() {
        List<Chip> chips = new ArrayList<>();
        for (Path link : Sysfs.list(root.resolve("sys/class/hwmon"))) {
            // Read by the device's own path: the number in the class may come to mean another chip.
            Path folder = Sysfs.real(link);
            String driver = Sysfs.text(folder.resolve("name"));
            Chip chip = new Chip(
                    folder,
                    driver.isEmpty() ? "unnamed" : driver,
                    Sysfs.devicePath(root, folder.resolve("device")),
                    PciDevice.at(folder.resolve("device")));
            if (!belongsToPowerSupply(chip)) {
                chips.add(chip);
            }
        }
        // The kernel numbers chips in the order in which drivers came up, which moves; the device's place does not.
        chips.sort(Comparator.comparing((Chip c) -> rank(c.driver))
                .thenComparing(Chip::driver)
                .thenComparing(Chip::component)
                .thenComparing(c -> Sysfs.numberIn(c.folder.getFileName().toString())));
        List<Source> sources = new ArrayList<>();
        for (Chip chip : chips) {
            if (!asleep(chip) && !Greeting.answered(readingsOf(chip.folder), Greeting.PATIENCE)) {
                missing.add(new Missing(
                        "hwmon/" + chip.driver,
                        "it did not answer within " + Greeting.PATIENCE.toSeconds() + " s",
                        "its driver hangs: its readings are left out of this run"));
                continue;
            }
            List<Line> lines = lines(chip);
            if (!lines.isEmpty()) {
                sources.add(new KernelSource(
                        lines.get(0).channel().source(),
                        lines,
                        chip.pci()
                                .filter(PciDevice::isGpu)
                                .flatMap(PciDevice::runtimeStatus)
                                .map(SampledFile::new)));
            }
        }
        return sources;
    }

    List<Missing> missing() {
        return missing;
    }

    private static boolean asleep(Chip chip) {
        return chip.pci()
                .filter(PciDevice::isGpu)
                .flatMap(PciDevice::runtimeStatus)
                .map(Sysfs::text)
                .orElse("")
                .startsWith("suspend");
    }

    private static List<Path> readingsOf(Path folder) {
        return Sysfs.list(folder).stream()
                .filter(f -> ATTRIBUTE.matcher(f.getFileName().toString()).matches())
                .toList();
    }

    /** Batteries and adapters are read from their own class, which says more. */
    private static boolean belongsToPowerSupply(Chip chip) {
        return chip.component.contains("power_supply/")
                || Files.exists(chip.device().resolve("online"))
                || Files.exists(chip.device().resolve("capacity"));
    }

    private static int rank(String driver) {
        if (driver.equals("coretemp") || driver.equals("k10temp")) {
            return 0;
        }
        return CPU_DRIVERS.contains(driver) ? 1 : 2;
    }

    private static Role role(Chip chip) {
        if (CPU_DRIVERS.contains(chip.driver)) {
            return Role.CPU;
        }
        if (chip.pci.isPresent()
                && (GPU_DRIVERS.contains(chip.driver) || chip.pci.get().isGpu())) {
            return chip.pci.get().gpuRole();
        }
        if (GPU_DRIVERS.contains(chip.driver)) {
            return Role.GPU_DISCRETE;
        }
        if (MEMORY_DRIVERS.contains(chip.driver)) {
            return Role.MEMORY;
        }
        if (STORAGE_DRIVERS.contains(chip.driver)) {
            return Role.STORAGE;
        }
        return NETWORK_DRIVER.matcher(chip.driver).matches() ? Role.NETWORK : Role.BOARD;
    }

    private List<Line> lines(Chip chip) {
        Role role = role(chip);
        String sourceName = sourceNames.unique("hwmon/" + chip.driver);
        String prefix = prefixes.unique(role == Role.BOARD ? "board." + Ids.word(chip.driver) : role.word());
        // For each kind and number the best of its files: an average says more than a moment.
        Set<String> attributes = new TreeSet<>(Comparator.comparing((String s) -> kindRank(s))
                .thenComparing(Sysfs::numberIn)
                .thenComparing(s -> s));
        readingsOf(chip.folder).forEach(f -> attributes.add(f.getFileName().toString()));
        boolean hasDie = attributes.stream().anyMatch(a -> label(chip, a).equals("Tdie"));
        List<Line> lines = new ArrayList<>();
        Set<String> done = new TreeSet<>();
        for (String attribute : attributes) {
            Matcher matcher = ATTRIBUTE.matcher(attribute);
            if (!matcher.matches() || !done.add(matcher.group(1) + matcher.group(2))) {
                continue;
            }
            Path file = chip.folder.resolve(attribute);
            if (!Files.isRegularFile(file) || !Files.isReadable(file)) {
                missing.add(new Missing(
                        sourceName + " " + attribute,
                        Sysfs.whyUnreadable(file),
                        "run as root if permission is what lacks; else go on without it"));
                continue;
            }
            line(chip, role, prefix, sourceName, matcher.group(1), matcher.group(2), file, hasDie)
                    .ifPresent(lines::add);
        }
        addGpuUtilization(chip, role, prefix, sourceName, lines);
        addPowerLimit(chip, role, prefix, sourceName, lines);
        lines.sort(Comparator.comparing(l -> l.channel().id().contains(".package.") ? 0 : 1));
        return lines;
    }

    private static int kindRank(String attribute) {
        return KINDS.indexOf(attribute.replaceAll("\\d.*", ""));
    }

    private static String label(Chip chip, String attribute) {
        return Sysfs.text(chip.folder.resolve(attribute.replaceAll("_(input|average)$", "_label")));
    }

    private Optional<Line> line(
            Chip chip, Role role, String prefix, String source, String kind, String number, Path file, boolean hasDie) {
        String label = label(chip, file.getFileName().toString());
        String named = Ids.word(label).isEmpty() ? kind + number : Ids.word(label);
        SampledFile kernelFile = new SampledFile(file);
        switch (kind) {
            case "temp" -> {
                String place = role == Role.CPU ? cpuPlace(label, named, hasDie) : named;
                Channel channel = channel(prefix + "." + place + ".temperature", Metric.TEMPERATURE, role, source)
                        .withComponent(chip.component, label)
                        .withQuality(resolution(chip.driver), Double.NaN)
                        .withLimits(limits(chip, number));
                return Optional.of(new Line(channel, Value.scaled(kernelFile, 1e3, COLDEST_CELSIUS, HOTTEST_CELSIUS)));
            }
            case "fan" -> {
                Channel channel = channel(
                                "fan." + Ids.word(chip.driver) + "." + named + ".speed",
                                Metric.FAN_SPEED,
                                Role.FAN,
                                source)
                        .withComponent(chip.component, label)
                        .withLimits(fanLimits(chip, number));
                return Optional.of(new Line(channel, Value.scaled(kernelFile, 1, 0, FASTEST_RPM)));
            }
            case "power" -> {
                Channel channel = channel(prefix + "." + named + ".power", Metric.POWER, role, source)
                        .withComponent(chip.component, label);
                return Optional.of(new Line(channel, Value.scaled(kernelFile, 1e6, 0, 100_000)));
            }
            case "energy" -> {
                Channel channel = channel(prefix + "." + named + ".energy", Metric.ENERGY, role, source)
                        .withComponent(chip.component, label);
                return Optional.of(new Line(channel, Value.scaled(kernelFile, 1e6, 0, Double.MAX_VALUE)));
            }
            case "in" -> {
                Channel channel = channel(prefix + "." + named + ".voltage", Metric.VOLTAGE, role, source)
                        .withComponent(chip.component, label)
                        .withQuality(1e-3, Double.NaN);
                return Optional.of(new Line(channel, Value.scaled(kernelFile, 1e3, -1000, 1000)));
            }
            case "freq" -> {
                if (!label.equals("sclk") && !label.equals("mclk")) {
                    return Optional.empty();
                }
                Metric metric = label.equals("sclk") ? Metric.GPU_CLOCK : Metric.GPU_MEMORY_CLOCK;
                Channel channel = channel(prefix + "." + named + ".clock", metric, role, source)
                        .withComponent(chip.component, label)
                        .withLimits(clockLimits(chip, label));
                return Optional.of(new Line(channel, Value.scaled(kernelFile, 1, 0, 1e12)));
            }
            default -> throw new IllegalStateException("no rule for " + kind);
        }
    }

    private Channel channel(String id, Metric metric, Role role, String source) {
        return Channel.of(ids.unique(id), metric, role, source);
    }

    private static String cpuPlace(String label, String otherwise, boolean hasDie) {
        Matcher chipPackage = PACKAGE.matcher(label);
        if (chipPackage.matches()) {
            return "package";
        }
        Matcher core = CORE.matcher(label);
        if (core.matches()) {
            return "core" + core.group(1);
        }
        // k10temp: Tctl is a scale for fan control and may be offset; Tdie, where offered, is without the offset.
        if (label.equals("Tdie") || (label.equals("Tctl") && !hasDie) || otherwise.equals("temp1")) {
            return "package";
        }
        return otherwise.replaceFirst("^tccd", "ccd");
    }

    private static double resolution(String driver) {
        return switch (driver) {
            case "coretemp", "amdgpu", "nouveau", "nvme" -> 1;
            case "k10temp" -> 0.125;
            default -> Double.NaN;
        };
    }

    /** The kernel has three names for limits; what the part does at each depends on the driver. */
    private static Map<LimitType, Double> limits(Chip chip, String number) {
        Map<LimitType, Double> limits = new EnumMap<>(LimitType.class);
        OptionalLong max = limit(chip, "temp" + number + "_max");
        OptionalLong crit = limit(chip, "temp" + number + "_crit");
        OptionalLong emergency = limit(chip, "temp" + number + "_emergency");
        switch (chip.driver) {
            case "coretemp", "k10temp", "amdgpu", "radeon" -> {
                put(limits, LimitType.HIGH_DEGRADED, max);
                put(limits, LimitType.THROTTLED, crit);
                put(limits, LimitType.HIGH_CRITICAL, emergency);
            }
            case "nouveau" -> {
                put(limits, LimitType.THROTTLED, max);
                put(limits, LimitType.HIGH_DEGRADED, crit);
                put(limits, LimitType.HIGH_CRITICAL, emergency);
            }
            default -> {
                put(limits, LimitType.HIGH_DEGRADED, max);
                put(limits, LimitType.HIGH_CRITICAL, emergency.isPresent() ? emergency : crit);
            }
        }
        return limits;
    }

    private static OptionalLong limit(Chip chip, String file) {
        return Sysfs.number(chip.folder.resolve(file));
    }

    private static void put(Map<LimitType, Double> limits, LimitType type, OptionalLong millidegrees) {
        if (millidegrees.isPresent()) {
            double celsius = millidegrees.getAsLong() / 1e3;
            if (celsius >= LOWEST_LIMIT_CELSIUS && celsius <= HIGHEST_LIMIT_CELSIUS) {
                limits.put(type, celsius); // drivers give 0, -273 or 65,262 for "none"
            }
        }
    }

    private static Map<LimitType, Double> fanLimits(Chip chip, String number) {
        OptionalLong max = Sysfs.number(chip.folder.resolve("fan" + number + "_max"));
        return max.isPresent() && max.getAsLong() > 0 && max.getAsLong() <= FASTEST_RPM
                ? Map.of(LimitType.MAX, (double) max.getAsLong())
                : Map.of();
    }

    /** The highest level of amdgpu's table of clocks, which has a line for each: {@code 2: 2575Mhz *}. */
    private static Map<LimitType, Double> clockLimits(Chip chip, String label) {
        String table = asleep(chip) ? "" : Sysfs.text(chip.device().resolve("pp_dpm_" + label));
        return CLOCK_LEVEL
                .matcher(table)
                .results()
                .map(level -> Double.parseDouble(level.group(1)) * 1e6)
                .max(Double::compare)
                .map(highest -> Map.of(LimitType.MAX, highest))
                .orElse(Map.of());
    }

    private void addGpuUtilization(Chip chip, Role role, String prefix, String source, List<Line> lines) {
        Path busy = chip.device().resolve("gpu_busy_percent");
        if (Files.isRegularFile(busy)) {
            Channel channel = channel(prefix + ".utilization", Metric.GPU_UTILIZATION, role, source)
                    .withComponent(chip.component, "")
                    .withQuality(0.01, Double.NaN);
            lines.add(new Line(channel, Value.scaled(new SampledFile(busy), 100, 0, 1)));
        }
    }

    private void addPowerLimit(Chip chip, Role role, String prefix, String source, List<Line> lines) {
        Path cap = chip.folder.resolve("power1_cap");
        if (Files.isRegularFile(cap)) {
            String label = Sysfs.text(chip.folder.resolve("power1_label"));
            Channel channel = channel(prefix + ".power.limit", Metric.POWER_LIMIT, role, source)
                    .withComponent(chip.component, label.toLowerCase(Locale.ROOT));
            // The driver wakes its GPU to tell this; temperature limits and labels it knows by heart.
            OptionalLong highest =
                    asleep(chip) ? OptionalLong.empty() : Sysfs.number(chip.folder.resolve("power1_cap_max"));
            if (highest.isPresent() && highest.getAsLong() > 0) {
                channel = channel.withLimits(Map.of(LimitType.MAX, highest.getAsLong() / 1e6));
            }
            lines.add(new Line(channel, Value.scaled(new SampledFile(cap), 1e6, 0, 100_000)));
        }
    }
}
