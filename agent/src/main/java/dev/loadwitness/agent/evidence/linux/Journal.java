// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import java.nio.ByteBuffer;
import java.nio.ByteOrder;
import java.nio.charset.StandardCharsets;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.List;
import java.util.Map;

/**
 * The journal export format (systemd's document "Journal Export Formats"): a field a line, {@code NAME=value}, or the name
 * alone, eight bytes of little-endian length and the bytes; an empty line between entries.
 */
final class Journal {
    private static final int LONGEST_VALUE = 500;

    private Journal() {}

    /** Whole entries in their order; what is torn or cut off at the end is left out, and long values are cut. */
    static List<Map<String, String>> entries(byte[] export) {
        List<Map<String, String>> entries = new ArrayList<>();
        Map<String, String> entry = new HashMap<>();
        int at = 0;
        while (at < export.length) {
            int end = lineEnd(export, at);
            if (end == export.length) {
                return entries; // torn
            }
            if (end == at) {
                if (!entry.isEmpty()) {
                    entries.add(entry);
                    entry = new HashMap<>();
                }
                at++;
                continue;
            }
            int equals = at;
            while (equals < end && export[equals] != '=') {
                equals++;
            }
            String name = new String(export, at, equals - at, StandardCharsets.ISO_8859_1);
            if (equals < end) {
                entry.put(name, value(export, equals + 1, end - equals - 1));
                at = end + 1;
                continue;
            }
            if (export.length - end - 1 < Long.BYTES) {
                return entries;
            }
            long length = ByteBuffer.wrap(export, end + 1, Long.BYTES)
                    .order(ByteOrder.LITTLE_ENDIAN)
                    .getLong();
            int from = end + 1 + Long.BYTES;
            if (length < 0 || length > export.length - from - 1) {
                return entries;
            }
            entry.put(name, value(export, from, (int) length));
            at = from + (int) length + 1;
        }
        if (!entry.isEmpty()) {
            entries.add(entry); // the last one needs no empty line after it
        }
        return entries;
    }

    private static int lineEnd(byte[] bytes, int from) {
        int at = from;
        while (at < bytes.length && bytes[at] != '\n') {
            at++;
        }
        return at;
    }

    private static String value(byte[] bytes, int from, int length) {
        return new String(bytes, from, Math.min(length, LONGEST_VALUE), StandardCharsets.UTF_8);
    }
}
