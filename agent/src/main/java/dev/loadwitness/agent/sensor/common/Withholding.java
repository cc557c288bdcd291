// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Map;
import java.util.Set;
import java.util.regex.Pattern;

/** Takes out of facts and of free text what the customer did not want written down. */
final class Withholding {
    static final String SERIAL = "serial";
    static final String HOST = "host";
    private static final String INSTEAD = "(withheld)";

    private static final Pattern SERIAL_NAME = Pattern.compile("(.*[.-])?(serial|uuid)");
    private static final Pattern HOST_NAME = Pattern.compile("(.*[.-])?(host|user)");
    private static final Pattern UUID = Pattern.compile("(?i)\\b[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}\\b");
    private static final Pattern MAC = Pattern.compile("(?i)\\b[0-9a-f]{2}([:-][0-9a-f]{2}){5}\\b");
    /** Shorter ones would take the sense out of innocent text. */
    private static final int SHORTEST_SECRET = 3;

    private static final Set<String> WORDS_OF_EVERY_MACHINE = Set.of("root", "localhost", "user", "admin");

    private final Set<String> groups;
    private final List<Pattern> secrets = new ArrayList<>();

    /** @param groups {@code serial}, {@code host}, both or none */
    Withholding(Set<String> groups) {
        for (String group : groups) {
            if (!group.equals(SERIAL) && !group.equals(HOST)) {
                throw new IllegalArgumentException(
                        "cannot withhold '" + group + "': only " + SERIAL + " and " + HOST + " are known");
            }
        }
        this.groups = Set.copyOf(groups);
    }

    /** Learns the values that must not appear anywhere, from the facts that are going to be left out. */
    void learn(Map<String, Map<String, String>> facts) {
        List<String> found = new ArrayList<>();
        facts.values()
                .forEach(group -> group.forEach((name, text) -> {
                    if (isWithheld(name)) {
                        found.add(text.strip());
                    }
                }));
        learn(found);
    }

    void learn(List<String> values) {
        values.stream()
                .filter(v -> v.length() >= SHORTEST_SECRET && !WORDS_OF_EVERY_MACHINE.contains(v))
                .distinct()
                .sorted(Comparator.comparing(String::length).reversed())
                .forEach(v -> secrets.add(Pattern.compile(
                        "(?<![\\p{L}\\p{N}])" + Pattern.quote(v) + "(?![\\p{L}\\p{N}])",
                        Pattern.CASE_INSENSITIVE | Pattern.UNICODE_CASE)));
    }

    boolean withholds(String group) {
        return groups.contains(group);
    }

    boolean isWithheld(String name) {
        return (groups.contains(SERIAL) && SERIAL_NAME.matcher(name).matches())
                || (groups.contains(HOST) && HOST_NAME.matcher(name).matches());
    }

    String scrub(String text) {
        String result = text;
        for (Pattern secret : secrets) {
            result = secret.matcher(result).replaceAll(INSTEAD);
        }
        if (groups.contains(SERIAL)) {
            result = MAC.matcher(UUID.matcher(result).replaceAll(INSTEAD)).replaceAll(INSTEAD);
        }
        return result;
    }
}
