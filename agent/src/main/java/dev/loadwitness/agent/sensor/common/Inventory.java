// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import dev.loadwitness.agent.sensor.Missing;
import java.util.Collections;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Set;

/** Who the machine is: facts for the header of a run, less what is to be withheld and what says nothing. */
public final class Inventory {
    private static final Set<String> ONE_OF_EACH = Set.of("os", "cpu", "memory");
    private static final Set<String> SAYS_NOTHING = Set.of(
            "",
            "unknown",
            "none",
            "n/a",
            "0",
            "default string",
            "to be filled by o.e.m.",
            "not specified",
            "system manufacturer",
            "system product name",
            "system serial number",
            "not available");

    private final Map<String, Map<String, String>> facts;
    private final List<Missing> missing;
    private final Withholding withholding;

    private Inventory(Map<String, Map<String, String>> facts, List<Missing> missing, Withholding withholding) {
        this.facts = facts;
        this.missing = missing;
        this.withholding = withholding;
    }

    /**
     * What is known, and what OSHI adds to it, less what is to be withheld. Starts a process and takes up to 10 s, so call
     * it before the load begins.
     *
     * @param withhold {@code serial}, {@code host}, both or none
     * @param known facts in groups, which win over OSHI's
     * @throws IllegalArgumentException if {@code withhold} holds another word
     */
    public static Inventory take(Set<String> withhold, Map<String, Map<String, String>> known) {
        return take(withhold, known, OshiFacts.ask());
    }

    static Inventory take(Set<String> withhold, Map<String, Map<String, String>> known, OshiFacts oshi) {
        Withholding withholding = new Withholding(withhold);
        Map<String, Map<String, String>> all = new LinkedHashMap<>();
        known.forEach((group, texts) -> {
            Map<String, String> said = new LinkedHashMap<>(texts);
            said.values().removeIf(Inventory::saysNothing);
            all.put(group, said);
        });
        oshi.groups().forEach((group, texts) -> {
            Map<String, String> said = all.computeIfAbsent(group, g -> new LinkedHashMap<>());
            // Disks and batteries are numbered, and OSHI may number them in another order.
            if (said.isEmpty() || ONE_OF_EACH.contains(group)) {
                texts.forEach((name, text) -> {
                    if (!saysNothing(text)) {
                        said.putIfAbsent(name, text);
                    }
                });
            }
        });
        withholding.learn(all);
        if (withholding.withholds(Withholding.HOST)) {
            withholding.learn(List.of(System.getProperty("user.name", "")));
        }
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        all.forEach((group, texts) -> {
            Map<String, String> kept = new LinkedHashMap<>();
            texts.forEach((name, text) -> {
                if (!withholding.isWithheld(name)) {
                    kept.put(name, withholding.scrub(text));
                }
            });
            facts.put(group, Collections.unmodifiableMap(kept));
        });
        List<Missing> missing = oshi
                .failure()
                .map(why -> new Missing(
                        "inventory: what OSHI adds", why, "write what matters of it into the job sheet by hand"))
                .stream()
                .toList();
        return new Inventory(Collections.unmodifiableMap(facts), missing, withholding);
    }

    /** By group, in the order that they were given in. */
    public Map<String, Map<String, String>> facts() {
        return facts;
    }

    public List<Missing> missing() {
        return missing;
    }

    /** Takes what is withheld out of other text, such as kernel messages: known names and numbers, UUIDs, MAC addresses. */
    public String scrub(String text) {
        return withholding.scrub(text);
    }

    /** What makers write where they have nothing to write. */
    private static boolean saysNothing(String text) {
        return SAYS_NOTHING.contains(text.strip().toLowerCase(Locale.ROOT));
    }
}
