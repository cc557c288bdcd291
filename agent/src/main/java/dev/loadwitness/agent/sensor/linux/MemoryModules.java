// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import static java.nio.charset.StandardCharsets.ISO_8859_1;

import dev.loadwitness.agent.sensor.linux.file.Sysfs;
import dev.loadwitness.runlog.disk.KernelFile;
import java.io.IOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/**
 * The memory modules that firmware lists: SMBIOS structures of type 17, "Memory Device" (DMTF DSP0134). The kernel
 * shows the table to root. What firmware wrote is taken as it is, but never for more than a table.
 */
final class MemoryModules {
    private static final int MOST_MODULES = 256;
    private static final int HEADER_BYTES = 4;

    private static final int MEMORY_DEVICE = 17;
    private static final int END_OF_TABLE = 127;

    private static final int SIZE = 0x0C;
    private static final int LOCATOR = 0x10;
    private static final int TYPE = 0x12;
    private static final int MAKER = 0x17;
    private static final int SERIAL = 0x18;
    private static final int PART = 0x1A;
    private static final int LARGE_SIZE = 0x1C;

    private static final int UNKNOWN_SIZE = 0xFFFF;
    private static final int SEE_LARGE_SIZE = 0x7FFF;
    private static final int IN_KIBIBYTES = 0x8000;

    private static final Map<Integer, String> TYPES = Map.ofEntries(
            Map.entry(0x12, "DDR"),
            Map.entry(0x13, "DDR2"),
            Map.entry(0x18, "DDR3"),
            Map.entry(0x1A, "DDR4"),
            Map.entry(0x1B, "LPDDR"),
            Map.entry(0x1C, "LPDDR2"),
            Map.entry(0x1D, "LPDDR3"),
            Map.entry(0x1E, "LPDDR4"),
            Map.entry(0x22, "DDR5"),
            Map.entry(0x23, "LPDDR5"));

    private MemoryModules() {}

    /** Of each module that is there, in the table's order: slot, size, type, make, part, serial, as far as told. */
    static List<Map<String, String>> of(Path root) {
        try {
            return in(
                    KernelFile.text(root.resolve("sys/firmware/dmi/tables/DMI")).getBytes(ISO_8859_1));
        } catch (IOException e) {
            return List.of(); // none, or not for this user
        }
    }

    static List<Map<String, String>> in(byte[] table) {
        List<Map<String, String>> modules = new ArrayList<>();
        int at = 0;
        while (at + HEADER_BYTES <= table.length && modules.size() < MOST_MODULES) {
            int type = table[at] & 0xFF;
            int length = table[at + 1] & 0xFF;
            int texts = at + length;
            if (length < HEADER_BYTES || texts > table.length || type == END_OF_TABLE) {
                break;
            }
            int end = texts;
            while (end + 1 < table.length && (table[end] != 0 || table[end + 1] != 0)) {
                end++;
            }
            if (type == MEMORY_DEVICE) {
                Structure structure = new Structure(table, at, length, end);
                String size = size(structure);
                if (!size.isEmpty()) {
                    modules.add(module(structure, size));
                }
            }
            at = end + 2;
        }
        return modules;
    }

    /** Empty for a slot without a module. */
    private static String size(Structure structure) {
        long size = structure.number(SIZE, 2);
        if (size == SEE_LARGE_SIZE) {
            return structure.number(LARGE_SIZE, 4) + " MiB";
        }
        if (size <= 0 || size == UNKNOWN_SIZE) {
            return "";
        }
        return (size & IN_KIBIBYTES) != 0 ? (size & SEE_LARGE_SIZE) / 1024 + " MiB" : size + " MiB";
    }

    private static Map<String, String> module(Structure structure, String size) {
        Map<String, String> facts = new LinkedHashMap<>();
        facts.put("slot", structure.text(LOCATOR));
        facts.put("size", size);
        facts.put("type", TYPES.getOrDefault((int) structure.number(TYPE, 1), ""));
        facts.put("make", structure.text(MAKER));
        facts.put("part", structure.text(PART));
        facts.put("serial", structure.text(SERIAL));
        facts.values().removeIf(String::isEmpty);
        return facts;
    }

    /** @param end where the structure's texts end */
    @SuppressWarnings("ArrayRecordComponent") // a view of the table, never compared
    private record Structure(byte[] table, int at, int length, int end) {
        /** Little endian; -1 in a structure that is too short to have it. */
        long number(int offset, int bytes) {
            if (offset + bytes > length) {
                return -1;
            }
            long value = 0;
            for (int i = bytes - 1; i >= 0; i--) {
                value = (value << 8) | (table[at + offset + i] & 0xFF);
            }
            return value;
        }

        /** The text whose number, from 1, stands there. */
        String text(int offset) {
            long wanted = number(offset, 1);
            int from = at + length;
            for (long number = 1; from < end && wanted > 0; number++) {
                int to = from;
                while (to < end && table[to] != 0) {
                    to++;
                }
                if (number == wanted) {
                    return Sysfs.printable(
                            new String(table, from, Math.min(to - from, Sysfs.LONGEST_TEXT), ISO_8859_1).strip());
                }
                from = to + 1;
            }
            return "";
        }
    }
}
