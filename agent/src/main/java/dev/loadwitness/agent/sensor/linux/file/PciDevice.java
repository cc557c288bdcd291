// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.file;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;

/**
 * What sysfs says about a PCI device without asking the device: the kernel keeps these files' contents, so a sleeping
 * one sleeps on. (Its {@code config} file would wake it.)
 *
 * @param folder the device's own folder, links resolved
 */
public record PciDevice(Path folder) {
    private static final String NVIDIA = "0x10de";
    private static final String DISPLAY = "0x03";
    private static final String ENCRYPTION = "0x1080";

    /** The PCI device that {@code link} leads to, or empty if that is none. */
    public static Optional<PciDevice> at(Path link) {
        try {
            Path folder = link.toRealPath();
            return Files.isRegularFile(folder.resolve("class")) && Files.isRegularFile(folder.resolve("vendor"))
                    ? Optional.of(new PciDevice(folder))
                    : Optional.empty();
        } catch (IOException e) {
            return Optional.empty();
        }
    }

    public String address() {
        return folder.getFileName().toString();
    }

    /** Vendor and device number, for example {@code 10de:2520}. */
    public String number() {
        return withoutPrefix("vendor") + ":" + withoutPrefix("device");
    }

    private String withoutPrefix(String file) {
        String text = Sysfs.text(folder.resolve(file));
        return text.startsWith("0x") ? text.substring(2) : text;
    }

    public boolean isGpu() {
        return Sysfs.text(folder.resolve("class")).startsWith(DISPLAY);
    }

    /**
     * Whether a GPU is part of the processor. The rule, and where it may err, is in {@code docs/sensors.md}.
     *
     * <p>Which GPU drives the screen ({@code boot_vga}) is not asked: a switch in the laptop may give it to either.
     */
    public Role gpuRole() {
        if (Sysfs.text(folder.resolve("vendor")).equals(NVIDIA)) {
            return Role.GPU_DISCRETE;
        }
        boolean onRootBus = bus().getFileName().toString().startsWith("pci");
        return onRootBus || sharesItsSlotWithTheSecurityProcessor() || hasNorthbridgeVoltage()
                ? Role.GPU_INTEGRATED
                : Role.GPU_DISCRETE;
    }

    private Path bus() {
        return requireNonNull(folder.getParent(), "a device lies in the folder of its bus");
    }

    private boolean sharesItsSlotWithTheSecurityProcessor() {
        String slot = address().replaceAll("\\.[0-7]$", ".");
        return Sysfs.list(bus()).stream()
                .filter(p -> p.getFileName().toString().startsWith(slot))
                .anyMatch(p -> Sysfs.text(p.resolve("class")).startsWith(ENCRYPTION));
    }

    private boolean hasNorthbridgeVoltage() {
        return Sysfs.list(folder.resolve("hwmon")).stream()
                .anyMatch(p -> Sysfs.text(p.resolve("in1_label")).equals("vddnb"));
    }

    /** Four hexadecimal digits, for example {@code 10de}. */
    public String vendor() {
        return withoutPrefix("vendor");
    }

    /** The bridges between this device and the root of the bus, nearest first. */
    public List<PciDevice> bridges() {
        List<PciDevice> bridges = new ArrayList<>();
        for (Path above = folder.getParent(); above != null; above = above.getParent()) {
            Optional<PciDevice> bridge = at(above);
            if (bridge.isEmpty()) {
                break;
            }
            bridges.add(bridge.get());
        }
        return bridges;
    }

    /** All GPUs of this machine, by their places on the bus. */
    public static List<PciDevice> gpus(Path root) {
        return Sysfs.list(root.resolve("sys/bus/pci/devices")).stream()
                .map(PciDevice::at)
                .flatMap(Optional::stream)
                .filter(PciDevice::isGpu)
                .sorted(Comparator.comparing(PciDevice::address))
                .toList();
    }

    /** The file that says whether it sleeps, or empty where power management is not offered. */
    public Optional<Path> runtimeStatus() {
        Path file = folder.resolve("power/runtime_status");
        return Files.isRegularFile(file) ? Optional.of(file) : Optional.empty();
    }
}
