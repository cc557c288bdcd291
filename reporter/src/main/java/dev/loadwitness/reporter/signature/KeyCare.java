// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;

/** What the owner of a key file that works should still do about it. */
public final class KeyCare {
    private KeyCare() {}

    /**
     * One sentence or two for each weakness of a key file that was just opened; none for one that {@code signing-key}
     * made.
     */
    public static List<String> advice(Path pkcs12, char[] passphrase) throws SigningException {
        List<String> advice = new ArrayList<>();
        if (othersCanRead(pkcs12)) {
            advice.add("Others can read " + pkcs12 + ": whoever has it and the passphrase signs in your name."
                    + " Run 'chmod 600' on it.");
        }
        String renew =
                " It signs as before; renew it: loadwitness-reporter signing-key --renew " + pkcs12 + " --out NEW";
        int steps = KeyStretching.weakest(SigningKey.read(pkcs12));
        if (steps < KeyStretching.ITERATIONS) {
            advice.add(pkcs12 + " lets passphrases be guessed faster than files made today: "
                    + (steps == 0
                            ? "its encryption is of an older kind."
                            : "each guess costs " + steps + " steps, not " + KeyStretching.ITERATIONS + ".")
                    + renew);
        }
        if (passphrase.length < Passphrases.CHARACTERS_LEAST) {
            advice.add("The passphrase of " + pkcs12 + " is shorter than the " + Passphrases.CHARACTERS_LEAST
                    + " characters that a new key takes." + renew);
        }
        return advice;
    }

    /** Whether others than its owner can read the file or write to it; false where the file system does not tell. */
    static boolean othersCanRead(Path file) {
        try {
            return Files.getPosixFilePermissions(file).stream()
                    .anyMatch(p -> p.name().startsWith("GROUP") || p.name().startsWith("OTHERS"));
        } catch (IOException | UnsupportedOperationException e) {
            return false;
        }
    }
}
