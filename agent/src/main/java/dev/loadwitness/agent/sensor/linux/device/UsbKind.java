// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.device;

import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.runlog.Role;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;

/**
 * What a USB device is for, by the classes of its interfaces (USB-IF's list of class codes; protocols 1 and 2 of the HID
 * specification's boot interface, from memory).
 */
enum UsbKind {
    // In the order in which they name a device that is several things at once.
    KEYBOARD("keyboard", Role.INPUT),
    STORAGE("storage", Role.STORAGE),
    WIRELESS("wireless", Role.NETWORK),
    NETWORK("network", Role.NETWORK),
    POINTER("pointing device", Role.INPUT),
    INPUT("input device", Role.INPUT),
    CAMERA("camera", Role.BOARD),
    AUDIO("audio", Role.BOARD),
    HUB("hub", Role.BOARD),
    OTHER("USB device", Role.BOARD);

    private final String word;
    private final Role role;

    UsbKind(String word, Role role) {
        this.word = word;
        this.role = role;
    }

    /** For people. */
    String word() {
        return word;
    }

    Role role() {
        return role;
    }

    static UsbKind of(Path device) {
        List<UsbKind> kinds = new ArrayList<>();
        kinds.add(of(Sysfs.text(device.resolve("bDeviceClass")), ""));
        String prefix = device.getFileName() + ":";
        for (Path entry : Sysfs.list(device)) {
            if (entry.getFileName().toString().startsWith(prefix)) {
                kinds.add(of(
                        Sysfs.text(entry.resolve("bInterfaceClass")), Sysfs.text(entry.resolve("bInterfaceProtocol"))));
            }
        }
        return kinds.stream().min(Comparator.naturalOrder()).orElse(OTHER);
    }

    private static UsbKind of(String code, String protocol) {
        return switch (code) {
            case "01" -> AUDIO;
            case "02" -> NETWORK;
            case "03" -> protocol.equals("01") ? KEYBOARD : protocol.equals("02") ? POINTER : INPUT;
            case "08" -> STORAGE;
            case "09" -> HUB;
            case "0e" -> CAMERA;
            case "e0" -> WIRELESS;
            default -> OTHER;
        };
    }
}
