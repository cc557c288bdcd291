// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.file;

import java.util.HashSet;
import java.util.Locale;
import java.util.Set;

/** Makes channel ids that are unique and, asked in the same order, the same at every boot. */
public final class Ids {
    private final Set<String> taken = new HashSet<>();

    /** {@code wanted}, or the same with a number where it is taken: before the first dot, which names the part. */
    public String unique(String wanted) {
        int dot = wanted.indexOf('.');
        String part = dot < 0 ? wanted : wanted.substring(0, dot);
        String rest = dot < 0 ? "" : wanted.substring(dot);
        String id = wanted;
        for (int n = 2; !taken.add(id); n++) {
            id = part + "-" + n + rest;
        }
        return id;
    }

    /** Lower-case letters, digits and single dashes: what may stand between the dots of an id. */
    public static String word(String text) {
        String word =
                text.toLowerCase(Locale.ROOT).replaceAll("[^a-z0-9]+", "-").replaceAll("^-+|-+$", "");
        return word.substring(0, Math.min(40, word.length()));
    }
}
