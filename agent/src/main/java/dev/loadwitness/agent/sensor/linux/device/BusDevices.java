// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.device;

import dev.loadwitness.agent.sensor.linux.file.Ids;
import dev.loadwitness.agent.sensor.linux.file.PciDevice;
import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.runlog.PciAddress;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.DirectoryIteratorException;
import java.nio.file.DirectoryStream;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.function.UnaryOperator;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/**
 * What is on the buses now. All of it is what the kernel keeps about devices since it found them
 * ({@code Documentation/ABI/testing/sysfs-bus-usb}, {@code sysfs-bus-pci}, {@code sysfs-block}; input devices by their
 * {@code capabilities}): none is asked, and none is woken. Serial numbers are not read.
 */
public final class BusDevices {
    private static final Pattern PORTS = Pattern.compile("(\\d+)-([0-9.]+)");
    private static final Pattern NO_DISK = Pattern.compile("(sr|fd)\\d+|mmcblk\\d+(boot\\d+|rpmb)");
    private static final int LONGEST_NAME = 120;

    // Numbers of the kernel's include/uapi/linux/input-event-codes.h.
    private static final int BTN_LEFT = 0x110;
    private static final int BTN_TOUCH = 0x14a;
    /** Escape to the bottom row's first keys: what has all of these is a keyboard, and not a few buttons (ours). */
    private static final long KEYS_OF_A_KEYBOARD = 0xfffffffeL;

    private final Path usb;
    private final Path pci;
    private final Path disks;
    private final Path inputs;
    private final List<Path> folders;
    private final List<Path> own;
    private final UnaryOperator<String> scrub;

    /**
     * @param own disks on which the log and this program lie
     * @param scrub takes out of a text what is withheld
     */
    public BusDevices(Path root, List<Path> own, UnaryOperator<String> scrub) {
        usb = root.resolve("sys/bus/usb/devices");
        pci = root.resolve("sys/bus/pci/devices");
        disks = root.resolve("sys/block");
        inputs = root.resolve("sys/class/input");
        folders = List.of(usb, pci, disks, inputs).stream()
                .filter(Files::isDirectory)
                .toList();
        this.own = List.copyOf(own);
        this.scrub = scrub;
    }

    /** Whether there is any bus to look at. */
    public boolean watchable() {
        return folders.contains(usb) || folders.contains(pci);
    }

    /**
     * All of them by id. What was known and is still the same is not looked at again.
     *
     * @throws IOException if a bus cannot be listed: then nothing is known to have left
     */
    Map<String, BusDevice> look(Map<String, BusDevice> known) throws IOException {
        Map<String, BusDevice> found = new LinkedHashMap<>();
        for (Path folder : folders) {
            for (Path entry : list(folder)) {
                String name = entry.getFileName().toString();
                Optional<BusDevice> device = folder.equals(usb)
                        ? usb(entry, name, known)
                        : folder.equals(pci)
                                ? pci(entry, known)
                                : folder.equals(disks) ? disk(entry, name) : input(entry);
                device.ifPresent(d -> {
                    BusDevice free = d;
                    for (int n = 2; found.containsKey(free.id()); n++) {
                        free = new BusDevice(
                                d.id() + "-" + n, d.role(), d.name(), d.removable(), d.witness(), d.generation());
                    }
                    found.put(free.id(), free);
                });
            }
        }
        return found;
    }

    private static List<Path> list(Path folder) throws IOException {
        List<Path> entries = new ArrayList<>();
        try (DirectoryStream<Path> stream = Files.newDirectoryStream(folder)) {
            stream.forEach(entries::add);
        } catch (DirectoryIteratorException e) {
            throw e.getCause();
        }
        entries.sort(null);
        return entries;
    }

    private Optional<BusDevice> usb(Path entry, String name, Map<String, BusDevice> known) {
        Matcher ports = PORTS.matcher(name);
        if (!ports.matches()) {
            return Optional.empty(); // an interface, or the root of a bus
        }
        Path folder = Sysfs.real(entry);
        String generation = Sysfs.text(folder.resolve("devnum"));
        if (generation.isEmpty()) {
            return Optional.empty(); // it is just leaving
        }
        // Buses are numbered as they are found; controller and port stay. One port has a bus for each generation of
        // USB.
        String version = Sysfs.text(usb.resolve("usb" + ports.group(1)).resolve("version"));
        String id = (version.startsWith("3") ? "usb3-" : "usb-") + nearestAddress(folder) + "-" + ports.group(2);
        BusDevice before = known.get(id);
        if (before != null && before.generation().equals(generation)) {
            return Optional.of(before);
        }
        UsbKind kind = UsbKind.of(folder);
        String maker = Sysfs.text(folder.resolve("manufacturer"));
        String product = Sysfs.text(folder.resolve("product"));
        String said = product.toLowerCase(Locale.ROOT).startsWith(maker.toLowerCase(Locale.ROOT))
                ? product
                : maker + " " + product;
        boolean fixed = Sysfs.text(folder.resolve("removable")).equals("fixed");
        boolean witness = own.stream().anyMatch(disk -> disk.startsWith(folder));
        return Optional.of(new BusDevice(id, kind.role(), name(kind.word(), said), !fixed, witness, generation));
    }

    private Optional<BusDevice> pci(Path entry, Map<String, BusDevice> known) {
        String id = "pci-" + entry.getFileName();
        BusDevice before = known.get(id);
        if (before != null) {
            return Optional.of(before);
        }
        return PciDevice.at(entry).map(device -> {
            String pciClass = Sysfs.text(device.folder().resolve("class"));
            Role role = Role.BOARD;
            String word = "device";
            if (device.isGpu()) {
                role = device.gpuRole();
                word = role.word();
            } else if (pciClass.startsWith("0x01")) {
                role = Role.STORAGE;
                word = "storage controller";
            } else if (pciClass.startsWith("0x02")) {
                role = Role.NETWORK;
                word = pciClass.startsWith("0x0280") ? "wireless network" : "network";
            }
            return new BusDevice(id, role, name(word, device.number() + " at " + device.address()), false, false, "");
        });
    }

    private Optional<BusDevice> disk(Path entry, String name) {
        Path folder = Sysfs.real(entry);
        String path = folder.toString();
        boolean another = path.contains("/devices/virtual/") || path.contains("/usb");
        if (another
                || NO_DISK.matcher(name).matches()
                || Sysfs.text(folder.resolve("hidden")).equals("1")) {
            return Optional.empty();
        }
        String model = Sysfs.text(folder.resolve("device/model"));
        if (model.isEmpty()) {
            model = Sysfs.text(folder.resolve("device/name")); // of a memory card
        }
        boolean removable = Sysfs.text(folder.resolve("removable")).equals("1")
                || Sysfs.text(folder.resolve("device/type")).equals("SD");
        String id = "disk-" + nearestAddress(folder) + "-" + Ids.word(model);
        boolean witness = removable && own.stream().anyMatch(disk -> disk.startsWith(folder));
        return Optional.of(new BusDevice(id, Role.STORAGE, name("disk", model), removable, witness, ""));
    }

    /** Keyboards, touchpads and mice that hang on no USB: those are on its list already. */
    private Optional<BusDevice> input(Path entry) {
        String number = entry.getFileName().toString();
        if (!number.matches("input\\d+")) {
            return Optional.empty();
        }
        Path folder = Sysfs.real(entry);
        String path = folder.toString();
        if (path.contains("/devices/virtual/") || path.contains("/usb")) {
            return Optional.empty();
        }
        String keys = Sysfs.text(folder.resolve("capabilities/key"));
        boolean keyboard = (word(keys, 0) & KEYS_OF_A_KEYBOARD) == KEYS_OF_A_KEYBOARD;
        boolean pointer = bit(keys, BTN_TOUCH)
                || (bit(keys, BTN_LEFT) && word(Sysfs.text(folder.resolve("capabilities/rel")), 0) != 0);
        if (!keyboard && !pointer) {
            return Optional.empty();
        }
        String name = Sysfs.text(folder.resolve("name"));
        String place = Sysfs.text(folder.resolve("phys"));
        String id = "input-" + Ids.word(place.isEmpty() ? name : place + " " + name);
        return Optional.of(new BusDevice(
                id, Role.INPUT, name(keyboard ? "keyboard" : "pointing device", name), false, false, number));
    }

    private String name(String kind, String said) {
        String name = said.isBlank() ? kind : kind + ": " + said.strip().replaceAll("\\s+", " ");
        String scrubbed = scrub.apply(Sysfs.printable(name));
        return scrubbed.length() <= LONGEST_NAME ? scrubbed : scrubbed.substring(0, LONGEST_NAME);
    }

    /** The PCI address that is nearest above a folder, or the platform's word. */
    private static String nearestAddress(Path folder) {
        for (Path above = folder; above != null && above.getFileName() != null; above = above.getParent()) {
            String name = above.getFileName().toString();
            if (PciAddress.is(name)) {
                return name;
            }
        }
        return "platform";
    }

    /** One of the 64-bit words of a capability, of which the last written is the lowest; 0 if there is none. */
    private static long word(String words, int index) {
        String[] all = words.split(" ", -1);
        if (index >= all.length) {
            return 0;
        }
        try {
            return Long.parseUnsignedLong(all[all.length - 1 - index], 16);
        } catch (NumberFormatException e) {
            return 0;
        }
    }

    private static boolean bit(String words, int bit) {
        return (word(words, bit / 64) >>> (bit % 64) & 1) == 1;
    }
}
