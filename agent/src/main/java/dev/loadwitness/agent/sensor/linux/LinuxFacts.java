// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import java.nio.file.Files;
import java.nio.file.Path;
import java.util.LinkedHashMap;
import java.util.Map;

/**
 * What the kernel's files say about the machine itself, for the header of a run. Starts no process and wakes no device:
 * the usual tools read a GPU's configuration space, which does.
 */
public final class LinuxFacts {
    private LinuxFacts() {}

    /** Groups {@code firmware}, {@code os}, {@code gpu} and {@code power}; the last two are there even if empty. */
    public static Map<String, Map<String, String>> of(Path root) {
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        facts.put("firmware", firmware(root));
        facts.put("os", os(root));
        facts.put("gpu", gpus(root));
        facts.put("power", power(root));
        return facts;
    }

    private static Map<String, String> firmware(Path root) {
        Map<String, String> facts = new LinkedHashMap<>();
        facts.put("mode", Files.isDirectory(root.resolve("sys/firmware/efi")) ? "uefi" : "bios or unknown");
        put(facts, "platform-profile", Sysfs.text(root.resolve("sys/firmware/acpi/platform_profile")));
        return facts;
    }

    private static Map<String, String> os(Path root) {
        Map<String, String> facts = new LinkedHashMap<>();
        put(facts, "kernel", Sysfs.text(root.resolve("proc/sys/kernel/osrelease")));
        put(facts, "host", Sysfs.text(root.resolve("proc/sys/kernel/hostname")));
        return facts;
    }

    private static Map<String, String> gpus(Path root) {
        Map<String, String> facts = new LinkedHashMap<>();
        int number = 1;
        for (Path link : Sysfs.list(root.resolve("sys/bus/pci/devices"))) {
            PciDevice device = PciDevice.at(link).filter(PciDevice::isGpu).orElse(null);
            if (device != null) {
                facts.put(number + ".role", device.gpuRole().word());
                facts.put(number + ".pci", device.number());
                facts.put(number + ".address", device.address());
                String status = device.runtimeStatus().map(Sysfs::text).orElse("");
                put(facts, number + ".power-state", status);
                put(facts, number + ".driver", driver(device));
                number++;
            }
        }
        return facts;
    }

    private static String driver(PciDevice device) {
        try {
            return device.folder().resolve("driver").toRealPath().getFileName().toString();
        } catch (java.io.IOException e) {
            return ""; // no driver has taken it
        }
    }

    private static Map<String, String> power(Path root) {
        Map<String, String> facts = new LinkedHashMap<>();
        for (Path supply : Sysfs.list(root.resolve("sys/class/power_supply"))) {
            String type = Sysfs.text(supply.resolve("type"));
            if (type.isEmpty() || Sysfs.text(supply.resolve("scope")).equals("Device")) {
                continue;
            }
            String name = Ids.word(supply.getFileName().toString());
            put(facts, name + ".type", type);
            put(facts, name + ".make", Sysfs.text(supply.resolve("manufacturer")));
            put(facts, name + ".model", Sysfs.text(supply.resolve("model_name")));
            put(facts, name + ".serial", Sysfs.text(supply.resolve("serial_number")));
            put(facts, name + ".technology", Sysfs.text(supply.resolve("technology")));
            String cycles = Sysfs.text(supply.resolve("cycle_count"));
            put(facts, name + ".cycles", cycles.equals("0") ? "" : cycles); // 0 means "not available"
            putScaled(facts, name + ".full-design-wh", supply.resolve("energy_full_design"));
            putScaled(facts, name + ".full-wh", supply.resolve("energy_full"));
            putScaled(facts, name + ".full-design-ah", supply.resolve("charge_full_design"));
            putScaled(facts, name + ".full-ah", supply.resolve("charge_full"));
        }
        return facts;
    }

    private static void put(Map<String, String> facts, String name, String text) {
        if (!text.isEmpty()) {
            facts.put(name, text);
        }
    }

    /** The kernel's millionths, as a plain decimal number. */
    private static void putScaled(Map<String, String> facts, String name, Path file) {
        Sysfs.number(file)
                .ifPresent(millionths -> facts.put(
                        name,
                        java.math.BigDecimal.valueOf(millionths, 6)
                                .stripTrailingZeros()
                                .toPlainString()));
    }
}
