// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.resume;

import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.Set;

/** Whether this is the machine that a run began on, by what its firmware says of it. */
public final class Machine {
    /** What it is, then which of these it is. */
    private static final List<String> NAMES =
            List.of("make", "model", "board-make", "board-model", "uuid", "serial", "board-serial");

    /** What makers leave in the table, read on made-up and emulated machines; from memory, and not complete. */
    private static final Set<String> SAYS_NOTHING = Set.of(
            "default string",
            "to be filled by o.e.m.",
            "not specified",
            "not settable",
            "not present",
            "system serial number",
            "unknown",
            "none");

    private Machine() {}

    /**
     * In what this machine differs from the one whose facts stand in a header, by all that both tell. Facts that were
     * withheld, or that this user may not read, say nothing.
     */
    public static Optional<String> difference(Map<String, String> header, Map<String, String> now) {
        for (String name : NAMES) {
            String before = header.getOrDefault(name, "");
            String here = now.getOrDefault(name, "");
            if (says(before) && says(here) && !before.equals(here)) {
                return Optional.of("its " + name + " is " + before + ", and here it is " + here);
            }
        }
        return Optional.empty();
    }

    private static boolean says(String value) {
        return !value.isBlank()
                && !value.matches("[0. -]*")
                && !SAYS_NOTHING.contains(value.strip().toLowerCase(Locale.ROOT));
    }
}
