// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.signature.Passphrases;
import dev.loadwitness.reporter.signature.SigningException;
import java.io.Console;
import java.nio.file.Path;
import java.util.Arrays;
import picocli.CommandLine.Option;

/** Where a passphrase comes from: a file, an environment variable, or a prompt; never an argument. */
final class Keys {
    @Option(
            names = "--passphrase-file",
            paramLabel = "FILE",
            description = "file whose first line is the passphrase; keep it readable by you alone")
    private Path file;

    @Option(
            names = "--passphrase-env",
            paramLabel = "NAME",
            description = "name of an environment variable that holds the passphrase")
    private String variable;

    /** The passphrase; asked for twice if {@code twice}, since a mistyped one would lock a new key. */
    char[] passphrase(boolean twice) throws Complaint {
        if (file != null && variable != null) {
            throw new Complaint(Exit.USAGE, "give --passphrase-file or --passphrase-env, not both");
        }
        try {
            if (file != null) {
                return Passphrases.fromFile(file);
            }
            if (variable != null) {
                return Passphrases.fromEnvironment(variable);
            }
        } catch (SigningException e) {
            throw new Complaint(Exit.NO_INPUT, e.getMessage());
        }
        return ask(twice);
    }

    private static char[] ask(boolean twice) throws Complaint {
        Console console = Terminal.find()
                .orElseThrow(() -> new Complaint(
                        Exit.USAGE,
                        "no terminal to ask for the passphrase on; give --passphrase-file or --passphrase-env"));
        char[] first = console.readPassword("Passphrase: ");
        if (first == null || first.length == 0) {
            throw new Complaint(Exit.USAGE, "no passphrase was given");
        }
        if (twice) {
            char[] second = console.readPassword("Once more: ");
            boolean same = second != null && Arrays.equals(first, second);
            if (second != null) {
                Arrays.fill(second, ' ');
            }
            if (!same) {
                throw new Complaint(Exit.USAGE, "the two passphrases differ; nothing was made");
            }
        }
        return first;
    }
}
