// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.PciDevice;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import java.io.IOException;
import java.math.BigDecimal;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.HashSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Set;
import java.util.function.Predicate;
import java.util.regex.Pattern;

/**
 * What the kernel's files say about the machine itself, for the header of a run. Starts no process, since root would start
 * whatever stands in its search path, and wakes no device, as the usual tools do when they read a GPU's configuration space.
 */
public final class LinuxFacts {
    private LinuxFacts() {}

    private static final long BYTES_PER_MEBIBYTE = 1L << 20;
    private static final int SECTOR_BYTES = 512;

    /** Block devices that are no disk of the machine: made by programs, of other devices, or of memory. */
    private static final Pattern NO_DISK = Pattern.compile("(loop|ram|zram|dm-|md|sr|fd|nbd|mtdblock).*");

    /**
     * Groups {@code machine}, {@code firmware}, {@code os}, {@code cpu}, {@code gpu}, {@code memory}, {@code storage} and
     * {@code power}, each there even if empty. Serial numbers of machine and board, and the list of memory modules, only
     * root may read.
     */
    public static Map<String, Map<String, String>> of(Path root) {
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        facts.put("machine", machine(root));
        facts.put("firmware", firmware(root));
        facts.put("os", os(root));
        facts.put("cpu", cpu(root));
        facts.put("gpu", gpus(root));
        facts.put("memory", memory(root));
        facts.put("storage", storage(root));
        facts.put("power", power(root));
        return facts;
    }

    /** Which facts about the machine there are, but not for this user, in words. */
    public static List<String> refused(Path root) {
        return refused(root, Files::isReadable);
    }

    static List<String> refused(Path root, Predicate<Path> readable) {
        Map<String, String> files = new LinkedHashMap<>();
        files.put("sys/class/dmi/id/product_serial", "serial number of the machine");
        files.put("sys/class/dmi/id/board_serial", "serial number of the board");
        files.put("sys/firmware/dmi/tables/DMI", "list of memory modules");
        return files.entrySet().stream()
                .filter(e -> Files.exists(root.resolve(e.getKey())) && !readable.test(root.resolve(e.getKey())))
                .map(Map.Entry::getValue)
                .toList();
    }

    /** Only the group {@code machine}: reads nothing but the firmware's tables, and touches no device. */
    public static Map<String, String> machine(Path root) {
        Path dmi = root.resolve("sys/class/dmi/id");
        Map<String, String> facts = new LinkedHashMap<>();
        put(facts, "make", Sysfs.text(dmi.resolve("sys_vendor")));
        put(facts, "model", Sysfs.text(dmi.resolve("product_name")));
        put(facts, "version", Sysfs.text(dmi.resolve("product_version")));
        put(facts, "serial", Sysfs.text(dmi.resolve("product_serial")));
        put(facts, "uuid", Sysfs.text(dmi.resolve("product_uuid")));
        put(facts, "board-make", Sysfs.text(dmi.resolve("board_vendor")));
        put(facts, "board-model", Sysfs.text(dmi.resolve("board_name")));
        put(facts, "board-version", Sysfs.text(dmi.resolve("board_version")));
        put(facts, "board-serial", Sysfs.text(dmi.resolve("board_serial")));
        return facts;
    }

    /** From {@code /proc/cpuinfo}: one block of "name : value" lines for each thread. */
    private static Map<String, String> cpu(Path root) {
        Map<String, String> facts = new LinkedHashMap<>();
        int threads = 0;
        Set<String> cores = new HashSet<>();
        String chip = "";
        for (String line : lines(root.resolve("proc/cpuinfo"))) {
            int colon = line.indexOf(':');
            String name = colon < 0 ? "" : line.substring(0, colon).strip();
            String text =
                    colon < 0 ? "" : Sysfs.printable(line.substring(colon + 1).strip());
            switch (name) {
                case "processor" -> threads++;
                case "physical id" -> chip = text;
                case "core id" -> cores.add(chip + ":" + text);
                case "model name" -> facts.putIfAbsent("name", text);
                case "vendor_id" -> facts.putIfAbsent("vendor", text);
                case "microcode" -> facts.putIfAbsent("microcode", text);
                default -> {
                    // family, flags, bugs and the like
                }
            }
        }
        if (threads > 0) {
            facts.put("threads", Integer.toString(threads));
        }
        if (!cores.isEmpty()) {
            facts.put("cores", Integer.toString(cores.size()));
        }
        return facts;
    }

    private static List<String> lines(Path file) {
        try {
            return Files.readAllLines(file, StandardCharsets.ISO_8859_1);
        } catch (IOException e) {
            return List.of();
        }
    }

    private static Map<String, String> firmware(Path root) {
        Path dmi = root.resolve("sys/class/dmi/id");
        Map<String, String> facts = new LinkedHashMap<>();
        put(facts, "make", Sysfs.text(dmi.resolve("bios_vendor")));
        put(facts, "version", Sysfs.text(dmi.resolve("bios_version")));
        put(facts, "date", Sysfs.text(dmi.resolve("bios_date")));
        facts.put("mode", Files.isDirectory(root.resolve("sys/firmware/efi")) ? "uefi" : "bios or unknown");
        put(facts, "platform-profile", Sysfs.text(root.resolve("sys/firmware/acpi/platform_profile")));
        return facts;
    }

    private static Map<String, String> os(Path root) {
        Map<String, String> facts = new LinkedHashMap<>();
        Map<String, String> release = release(root);
        put(facts, "family", release.getOrDefault("NAME", ""));
        put(facts, "version", release.getOrDefault("VERSION", release.getOrDefault("VERSION_ID", "")));
        put(facts, "kernel", Sysfs.text(root.resolve("proc/sys/kernel/osrelease")));
        put(facts, "host", Sysfs.text(root.resolve("proc/sys/kernel/hostname")));
        return facts;
    }

    /** The lines {@code NAME="value"} of os-release(5). */
    private static Map<String, String> release(Path root) {
        Map<String, String> values = new LinkedHashMap<>();
        for (String line : lines(root.resolve("etc/os-release"))) {
            int equals = line.indexOf('=');
            if (equals > 0) {
                String value = line.substring(equals + 1).strip();
                boolean quoted = value.length() >= 2 && (value.startsWith("\"") || value.startsWith("'"));
                values.putIfAbsent(
                        line.substring(0, equals),
                        Sysfs.printable(quoted ? value.substring(1, value.length() - 1) : value));
            }
        }
        return values;
    }

    private static Map<String, String> memory(Path root) {
        Map<String, String> facts = new LinkedHashMap<>();
        for (String line : lines(root.resolve("proc/meminfo"))) {
            if (line.matches("MemTotal:\\s+[0-9]{1,15} kB")) {
                facts.put("total", Long.parseLong(line.replaceAll("[^0-9]", "")) / 1024 + " MiB");
            }
        }
        int number = 1;
        for (Map<String, String> module : MemoryModules.of(root)) {
            for (Map.Entry<String, String> fact : module.entrySet()) {
                facts.put(number + "." + fact.getKey(), fact.getValue());
            }
            number++;
        }
        return facts;
    }

    private static Map<String, String> storage(Path root) {
        Map<String, String> facts = new LinkedHashMap<>();
        int number = 1;
        for (Path disk : Sysfs.list(root.resolve("sys/block"))) {
            String name = disk.getFileName().toString();
            long bytes = Sysfs.number(disk.resolve("size")).orElse(0) * SECTOR_BYTES;
            if (NO_DISK.matcher(name).matches() || bytes <= 0) {
                continue;
            }
            put(facts, number + ".name", Sysfs.printable(name));
            put(facts, number + ".model", Sysfs.text(disk.resolve("device/model")));
            put(facts, number + ".size", bytes / BYTES_PER_MEBIBYTE + " MiB");
            String serial = Sysfs.text(disk.resolve("device/serial"));
            put(facts, number + ".serial", serial.isEmpty() ? Sysfs.text(disk.resolve("serial")) : serial);
            number++;
        }
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
        } catch (IOException e) {
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
                        BigDecimal.valueOf(millionths, 6).stripTrailingZeros().toPlainString()));
    }
}
