// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import dev.loadwitness.runlog.Header;
import java.nio.charset.StandardCharsets;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.HexFormat;
import java.util.Optional;

/**
 * Which machine a run was made on, as far as its header tells.
 *
 * @param digest SHA-256 of make, model and serial number in hex: equal for runs of one machine; empty if the serial number is not
 *     there. Whoever can guess the serial number can check the guess
 * @param model make and model; empty if neither is known
 * @param why one clause, where there is no digest
 */
public record MachineIdentity(Optional<String> digest, String model, String why) {
    public static MachineIdentity of(Header header) {
        String make = header.fact("machine", "make").strip();
        String model = (make + " " + header.fact("machine", "model").strip()).strip();
        String serial = header.fact("machine", "serial").strip();
        if (header.withheld().contains("serial") || header.withheld().contains("machine")) {
            return new MachineIdentity(Optional.empty(), model, "the serial number was withheld");
        }
        if (serial.isEmpty()) {
            return new MachineIdentity(Optional.empty(), model, "the log has no serial number");
        }
        if (isFiller(serial)) {
            return new MachineIdentity(
                    Optional.empty(), model, "its firmware has '" + serial + "' in place of a serial number");
        }
        String text = "loadwitness machine\n" + model + "\n" + serial;
        return new MachineIdentity(Optional.of(sha256(text)), model, "");
    }

    /** What makers leave where a number should be: words without a digit, or one character over and over (ours). */
    private static boolean isFiller(String serial) {
        return serial.chars().noneMatch(c -> c >= '0' && c <= '9')
                || serial.chars().distinct().count() == 1;
    }

    private static String sha256(String text) {
        try {
            return HexFormat.of()
                    .formatHex(MessageDigest.getInstance("SHA-256").digest(text.getBytes(StandardCharsets.UTF_8)));
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException("every Java platform has SHA-256", e);
        }
    }
}
