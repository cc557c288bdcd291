// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.probe;

import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/** The machine's facts, which the log keeps under short names, as a technician says them. */
final class FactWords {
    /** Where the words differ from the short name, or an unit goes with it: {@code %s} is what was found. */
    private static final Map<String, String> WORDS = Map.ofEntries(
            Map.entry("uuid", "UUID %s"),
            Map.entry("mode", "boots by %s"),
            Map.entry("pci", "PCI id %s"),
            Map.entry("address", "at %s"),
            Map.entry("role", "%s"),
            Map.entry("name", "%s"),
            Map.entry("kind", "%s"),
            Map.entry("host", "host name %s"),
            Map.entry("threads", "%s threads"),
            Map.entry("cores", "%s cores"),
            Map.entry("cycles", "%s charge cycles"),
            Map.entry("full-design-wh", "holds %s Wh by design"),
            Map.entry("full-wh", "holds %s Wh when full now"),
            Map.entry("full-design-ah", "holds %s Ah by design"),
            Map.entry("full-ah", "holds %s Ah when full now"));

    private FactWords() {}

    /**
     * One line for what belongs to the group itself, and one for each part in it ({@code 1.role}, {@code bat0.make}),
     * begun by the part's name.
     */
    static List<String> lines(Map<String, String> facts) {
        Map<String, List<String>> parts = new LinkedHashMap<>();
        facts.forEach((key, value) -> {
            int dot = key.indexOf('.');
            String part = dot < 0 ? "" : key.substring(0, dot);
            parts.computeIfAbsent(part, p -> new ArrayList<>()).add(words(key.substring(dot + 1), value));
        });
        List<String> lines = new ArrayList<>();
        parts.forEach((part, words) -> lines.add((part.isEmpty() ? "" : part + ": ") + String.join(", ", words)));
        return lines;
    }

    private static String words(String name, String value) {
        String pattern = WORDS.get(name);
        return pattern == null ? name.replace('-', ' ') + " " + value : pattern.replace("%s", value);
    }
}
