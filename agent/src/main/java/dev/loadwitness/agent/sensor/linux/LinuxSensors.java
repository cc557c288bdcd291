// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.GraphicsPart;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.device.BusDevices;
import dev.loadwitness.agent.sensor.linux.device.DeviceWatch;
import dev.loadwitness.agent.sensor.linux.device.OwnDisks;
import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.PciDevice;
import dev.loadwitness.agent.sensor.linux.message.KernelLog;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.function.LongSupplier;
import java.util.function.UnaryOperator;

/** The door to this package. */
public final class LinuxSensors {
    private LinuxSensors() {}

    /**
     * Looks round once. What is plugged in later is not found; what leaves reads as NaN and is read again when it is
     * back at the same path.
     *
     * @param root {@code /}, or a made-up tree
     */
    public static Discovery discover(Path root) {
        return discover(root, System::nanoTime);
    }

    /**
     * The kernel's messages from now on, as a source without channels.
     *
     * @param scrub takes out of a text what is withheld
     */
    public static Discovery kernelLog(Path root, UnaryOperator<String> scrub) {
        return KernelLog.find(root, scrub);
    }

    /**
     * Which devices are there, leave and come, as a source without channels. Asks and wakes none.
     *
     * @param own where the log and this program lie: a stick that holds them is not the machine's
     * @param scrub takes out of a text what is withheld
     */
    public static Discovery devices(Path root, List<Path> own, UnaryOperator<String> scrub) {
        BusDevices devices = new BusDevices(root, OwnDisks.of(root, own), scrub);
        return devices.watchable()
                ? new Discovery(List.of(new DeviceWatch(devices, System::nanoTime)), List.of())
                : new Discovery(
                        List.of(),
                        List.of(new Missing(
                                "devices on the buses",
                                "neither /sys/bus/usb/devices nor /sys/bus/pci/devices is there",
                                "mount /sys: without it a keyboard or a disk that drops out is not seen")));
    }

    /** The GPUs on the bus, from what the kernel keeps about them: none is asked, and none is woken. */
    public static List<GraphicsPart> graphicsParts(Path root) {
        return PciDevice.gpus(root).stream()
                .map(gpu -> new GraphicsPart(
                        gpu.address(),
                        gpu.vendor(),
                        gpu.gpuRole(),
                        new RuntimeSleep(gpu.folder().resolve("power"))))
                .toList();
    }

    static Discovery discover(Path root, LongSupplier nanoClock) {
        Ids ids = new Ids();
        List<Source> sources = new ArrayList<>();
        List<Missing> missing = new ArrayList<>();

        Hwmon hwmon = new Hwmon(root, ids);
        sources.addAll(hwmon.find());
        missing.addAll(hwmon.missing());
        if (!offers(sources, Role.CPU, Metric.TEMPERATURE)) {
            Optional<Source> zone = ThermalZones.cpu(root, ids);
            zone.ifPresent(z -> sources.add(0, z));
            if (zone.isEmpty()) {
                missing.add(new Missing(
                        "CPU temperature",
                        "no CPU driver under /sys/class/hwmon and no CPU zone under /sys/class/thermal",
                        "load the kernel module coretemp (Intel) or k10temp (AMD); virtual machines have none"));
            }
        }
        if (!offers(sources, Role.FAN, Metric.FAN_SPEED)) {
            missing.add(new Missing(
                    "fan speed",
                    "no driver under /sys/class/hwmon offers a fan",
                    "listen and look: a stalled fan will not be seen; some laptops need their maker's kernel module"));
        }
        RuntimeSleep.find(root, ids).ifPresent(sources::add);
        sources.addAll(IntelGraphics.find(root, ids));
        Powercap powercap = new Powercap(root, ids, nanoClock);
        powercap.find().ifPresent(sources::add);
        missing.addAll(powercap.missing());
        addOr(
                sources,
                ThermalThrottle.find(root, ids),
                missing,
                new Missing(
                        "CPU throttle counters",
                        "no cpu*/thermal_throttle",
                        "only Intel processors have them: judge by temperature and verified work instead"));
        addOr(
                sources,
                CpuFrequency.find(root, ids),
                missing,
                new Missing(
                        "CPU clock",
                        "no cpufreq policies under /sys/devices/system/cpu",
                        "judge by verified work instead; virtual machines have none"));
        addOr(
                sources,
                CpuTime.find(root, ids),
                missing,
                new Missing("CPU utilization", "/proc/stat cannot be read", "mount /proc"));
        ErrorCounters errors = new ErrorCounters(root, ids);
        sources.addAll(errors.find());
        missing.addAll(errors.missing());
        PowerSupplies supplies = new PowerSupplies(root, ids);
        sources.addAll(supplies.find());
        missing.addAll(supplies.missing());
        return new Discovery(sources, missing);
    }

    /**
     * Whether the GPU at a PCI address is discrete or part of the processor, as sysfs tells it; empty if there is no such
     * GPU. Does not wake it.
     *
     * @param root {@code /}, or a made-up tree
     */
    public static Optional<Role> gpuRole(Path root, String pciAddress) {
        return PciDevice.at(root.resolve("sys/bus/pci/devices").resolve(pciAddress))
                .filter(PciDevice::isGpu)
                .map(PciDevice::gpuRole);
    }

    private static boolean offers(List<Source> sources, Role role, Metric metric) {
        return sources.stream().flatMap(s -> s.channels().stream()).anyMatch(c -> c.is(role, metric));
    }

    private static void addOr(List<Source> sources, Optional<Source> found, List<Missing> missing, Missing otherwise) {
        if (found.isPresent()) {
            sources.add(found.get());
        } else {
            missing.add(otherwise);
        }
    }
}
