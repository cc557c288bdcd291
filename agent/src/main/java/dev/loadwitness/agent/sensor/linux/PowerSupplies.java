// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Greeting;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.KernelSource;
import dev.loadwitness.agent.sensor.linux.file.Line;
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
import java.util.List;
import java.util.Optional;
import java.util.OptionalLong;

/**
 * Adapter and batteries under {@code /sys/class/power_supply}: kernel documents {@code power/power_supply_class.rst} and
 * {@code ABI/testing/sysfs-class-power}.
 */
final class PowerSupplies {
    private static final double MICROS_PER_UNIT = 1e6;
    /** A thousandth of a watt-hour or ampere-hour in the millionths that the kernel tells. */
    private static final double MILLI = 1000;

    private final Path folder;
    private final Path root;
    private final Ids ids;
    private final List<Missing> missing = new ArrayList<>();

    PowerSupplies(Path root, Ids ids) {
        this.root = root;
        folder = root.resolve("sys/class/power_supply");
        this.ids = ids;
    }

    List<Source> find() {
        List<Source> sources = new ArrayList<>();
        List<Path> inlets = new ArrayList<>();
        for (Path supply : Sysfs.list(folder)) {
            String type = Sysfs.text(supply.resolve("type"));
            boolean ofAnotherDevice = Sysfs.text(supply.resolve("scope")).equals("Device"); // a mouse, a headset
            if (ofAnotherDevice) {
                continue;
            }
            if (!Greeting.answered(List.of(supply.resolve("online"), supply.resolve("status")), Greeting.PATIENCE)) {
                missing.add(new Missing(
                        "power supply " + Sysfs.printable(supply.getFileName().toString()),
                        "it did not answer within " + Greeting.PATIENCE.toSeconds() + " s",
                        "its driver hangs: its readings are left out of this run"));
                continue;
            }
            if ((type.equals("Mains") || type.equals("USB")) && Files.isRegularFile(supply.resolve("online"))) {
                inlets.add(supply);
            } else if (type.equals("Battery")
                    && !Sysfs.text(supply.resolve("present")).equals("0")) {
                battery(supply).ifPresent(sources::add);
            }
        }
        if (sources.isEmpty()) {
            missing.add(new Missing(
                    "battery",
                    "no battery under /sys/class/power_supply",
                    "if one is fitted, reseat its connector; if none is, say so in the job sheet"));
        }
        if (inlets.isEmpty()) {
            missing.add(new Missing(
                    "adapter state",
                    "no mains or USB supply under /sys/class/power_supply",
                    "watch the adapter by hand: its loss will not stop the load"));
        } else {
            sources.add(0, adapter(inlets));
        }
        return sources;
    }

    List<Missing> missing() {
        return missing;
    }

    /** One channel however many inlets there are: what counts is whether any of them feeds the machine. */
    private Source adapter(List<Path> inlets) {
        String names = String.join(
                " ", inlets.stream().map(p -> p.getFileName().toString()).toList());
        Channel channel = Channel.of(
                        ids.unique("adapter.online"), Metric.ADAPTER_ONLINE, Role.ADAPTER, "power_supply/adapter")
                .withComponent("power_supply", Sysfs.printable(names))
                .withQuality(1, 0);
        List<SampledFile> files =
                inlets.stream().map(p -> new SampledFile(p.resolve("online"))).toList();
        return new KernelSource("power_supply/adapter", List.of(new Line(channel, new AnyOnline(files))));
    }

    private Optional<Source> battery(Path supply) {
        String name = supply.getFileName().toString();
        String source = "power_supply/" + Sysfs.printable(name);
        String prefix = "battery." + (Ids.word(name).isEmpty() ? "unnamed" : Ids.word(name));
        List<Line> lines = new ArrayList<>();
        charge(supply).ifPresent(value -> {
            Line line = line(supply, source, prefix + ".charge", Metric.BATTERY_CHARGE, value);
            lines.add(new Line(line.channel().withQuality(chargeStep(supply), Double.NaN), value));
        });
        threshold(supply, source, "start", prefix + ".charge-start", Metric.BATTERY_CHARGE_START)
                .ifPresent(lines::add);
        threshold(supply, source, "end", prefix + ".charge-end", Metric.BATTERY_CHARGE_END)
                .ifPresent(lines::add);
        if (has(supply, "status")) {
            lines.add(line(
                    supply, source, prefix + ".state", Metric.BATTERY_STATE, new BatteryState(file(supply, "status"))));
        }
        power(supply)
                .ifPresent(value -> lines.add(line(supply, source, prefix + ".power", Metric.BATTERY_POWER, value)));
        if (has(supply, "voltage_now")) {
            lines.add(line(
                    supply,
                    source,
                    prefix + ".voltage",
                    Metric.VOLTAGE,
                    Value.scaled(file(supply, "voltage_now"), MICROS_PER_UNIT, 0, 1000)));
        }
        if (has(supply, "temp")) {
            Line line = line(
                    supply,
                    source,
                    prefix + ".temperature",
                    Metric.TEMPERATURE,
                    Value.scaled(file(supply, "temp"), 10, -60, 200));
            lines.add(new Line(line.channel().withQuality(0.1, Double.NaN), line.value()));
        } else {
            missing.add(new Missing(
                    "temperature of battery " + Sysfs.printable(name),
                    "its driver offers no temp file",
                    "feel the battery by hand: its heat will not stop the load"));
        }
        return lines.isEmpty() ? Optional.empty() : Optional.of(new KernelSource(source, lines));
    }

    private Line line(Path supply, String source, String id, Metric metric, Value value) {
        Channel channel = Channel.of(ids.unique(id), metric, Role.BATTERY, source)
                .withComponent(Sysfs.devicePath(root, supply), "");
        return new Line(channel, value);
    }

    /** Energy or charge where both ends are told, since the capacity file has whole percents only. */
    private static Optional<Value> charge(Path supply) {
        for (String quantity : List.of("energy", "charge")) {
            if (has(supply, quantity + "_now") && has(supply, quantity + "_full")) {
                return Optional.of(new Share(file(supply, quantity + "_now"), file(supply, quantity + "_full")));
            }
        }
        return has(supply, "capacity")
                ? Optional.of(Value.scaled(file(supply, "capacity"), 100, 0, 1))
                : Optional.empty();
    }

    /**
     * The smallest step that the charge can move by: firmware tells thousandths of a watt-hour or ampere-hour at the finest
     * (from memory of the ACPI specification), and many tell coarser ones; the step that is seen decides then.
     */
    private static double chargeStep(Path supply) {
        for (String quantity : List.of("energy", "charge")) {
            if (has(supply, quantity + "_now") && has(supply, quantity + "_full")) {
                OptionalLong full = Sysfs.number(supply.resolve(quantity + "_full"));
                return full.isPresent() && full.getAsLong() > 0 ? Math.min(1, MILLI / full.getAsLong()) : Double.NaN;
            }
        }
        return 0.01;
    }

    /**
     * Where the firmware begins, or ends, to charge: whole percents. They are channels and no limits of the charge, because
     * a laptop may move them.
     */
    private Optional<Line> threshold(Path supply, String source, String which, String id, Metric metric) {
        String name = "charge_control_" + which + "_threshold";
        if (!has(supply, name)) {
            return Optional.empty();
        }
        Line line = line(supply, source, id, metric, Value.scaled(file(supply, name), 100, 0, 1));
        return Optional.of(new Line(line.channel().withQuality(0.01, Double.NaN), line.value()));
    }

    private static Optional<Value> power(Path supply) {
        if (!has(supply, "status")) {
            return Optional.empty();
        }
        SampledFile status = file(supply, "status");
        if (has(supply, "power_now")) {
            return Optional.of(new SignedPower(status, List.of(file(supply, "power_now"))));
        }
        return has(supply, "current_now") && has(supply, "voltage_now")
                ? Optional.of(
                        new SignedPower(status, List.of(file(supply, "current_now"), file(supply, "voltage_now"))))
                : Optional.empty();
    }

    private static boolean has(Path supply, String name) {
        return Files.isRegularFile(supply.resolve(name)) && Files.isReadable(supply.resolve(name));
    }

    private static SampledFile file(Path supply, String name) {
        return new SampledFile(supply.resolve(name));
    }

    /** 1 if any inlet is online; 0 only if all answered and none is. */
    private record AnyOnline(List<SampledFile> files) implements Value {
        @Override
        public double read() throws IOException {
            IOException failed = null;
            for (int i = 0; i < files.size(); i++) {
                try {
                    if (files.get(i).number() > 0) { // 2 is a programmable supply
                        return 1;
                    }
                } catch (IOException e) {
                    failed = e;
                }
            }
            if (failed != null) {
                throw failed;
            }
            return 0;
        }
    }

    /** 1 charging, −1 discharging, 2 full, 0 not charging; NaN where it does not know. */
    private record BatteryState(SampledFile status) implements Value {
        @Override
        public double read() throws IOException {
            if (status.startsWith("Charging")) {
                return 1;
            }
            if (status.startsWithLoaded("Discharging")) {
                return -1;
            }
            if (status.startsWithLoaded("Full")) {
                return 2;
            }
            return status.startsWithLoaded("Not charging") ? 0 : Double.NaN;
        }

        @Override
        public List<SampledFile> files() {
            return List.of(status);
        }
    }

    private record Share(SampledFile now, SampledFile full) implements Value {
        @Override
        public double read() throws IOException {
            double share = (double) now.number() / full.number();
            return share >= 0 && share < 1.5 ? share : Double.NaN; // an old battery's gauge may pass its own "full"
        }

        @Override
        public List<SampledFile> files() {
            return List.of(now, full);
        }
    }

    /**
     * Watts, positive while charging. Drivers differ in the sign they give, so the status decides; where it does not
     * (full, not charging, unknown) only a zero and a driver's own minus can be trusted.
     */
    private record SignedPower(SampledFile status, List<SampledFile> factors) implements Value {
        @Override
        public double read() throws IOException {
            double value = 1;
            for (int i = 0; i < factors.size(); i++) {
                value *= factors.get(i).number() / MICROS_PER_UNIT;
            }
            if (status.startsWith("Charging")) {
                return Math.abs(value);
            }
            if (status.startsWithLoaded("Discharging")) {
                return 0 - Math.abs(value); // not -Math.abs, which makes a negative zero of zero
            }
            return value <= 0 ? value : Double.NaN;
        }

        @Override
        public List<SampledFile> files() {
            List<SampledFile> all = new ArrayList<>(factors);
            all.add(status);
            return all;
        }
    }
}
