// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm;

import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.HexFormat;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.Set;

/** Whether this is the machine that a run began on, by what its firmware says of it. */
public final class Machine {
    private static final List<String> WHICH = List.of("uuid", "serial", "board-serial");
    private static final List<String> WHAT = List.of("make", "model", "board-make", "board-model");

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
     * Which machine it is, without saying so: a digest that only the same machine gives, salted so that it tells nothing
     * to who knows serial numbers. Where the firmware knows no number, the system's own identity serves.
     *
     * @param facts of the group {@code machine}, as this user may read them
     * @param root {@code /}, or a made-up tree
     */
    static String digest(Map<String, String> facts, Path root, String salt) {
        StringBuilder text = new StringBuilder(salt);
        boolean any = false;
        for (String name : WHICH) {
            String value = facts.getOrDefault(name, "");
            if (says(value)) {
                any = true;
                text.append('\n').append(name).append('=').append(value);
            }
        }
        for (String name : WHAT) {
            text.append('\n').append(name).append('=').append(facts.getOrDefault(name, ""));
        }
        if (!any) {
            text.append("\nid=").append(systemId(root));
        }
        try {
            byte[] digest =
                    MessageDigest.getInstance("SHA-256").digest(text.toString().getBytes(StandardCharsets.UTF_8));
            return HexFormat.of().formatHex(digest);
        } catch (NoSuchAlgorithmException e) {
            throw new AssertionError("every Java has SHA-256", e);
        }
    }

    private static boolean says(String value) {
        return !value.isBlank()
                && !value.matches("[0. -]*")
                && !SAYS_NOTHING.contains(value.strip().toLowerCase(Locale.ROOT));
    }

    private static String systemId(Path root) {
        try {
            return Files.readString(root.resolve("etc/machine-id"), StandardCharsets.US_ASCII)
                    .strip();
        } catch (IOException e) {
            return ""; // then make and model must do
        }
    }

    /**
     * In what this machine differs from the one whose facts stand in a header, by all that both tell. Facts that were
     * withheld, or that this user may not read, say nothing.
     */
    public static Optional<String> difference(Map<String, String> header, Map<String, String> now) {
        for (List<String> names : List.of(WHAT, WHICH)) {
            for (String name : names) {
                String before = header.getOrDefault(name, "");
                String here = now.getOrDefault(name, "");
                if (says(before) && says(here) && !before.equals(here)) {
                    return Optional.of("its " + name + " is " + before + ", and here it is " + here);
                }
            }
        }
        return Optional.empty();
    }
}
