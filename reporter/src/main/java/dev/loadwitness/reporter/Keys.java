// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.signature.KeyCare;
import dev.loadwitness.reporter.signature.Passphrases;
import dev.loadwitness.reporter.signature.SigningException;
import dev.loadwitness.reporter.signature.SigningKey;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.command.Terminal;
import java.io.Console;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.util.Arrays;
import picocli.CommandLine.Option;

/** Where a passphrase comes from: a file, an environment variable, or a prompt; never an argument. */
final class Keys {
    @Option(
            names = "--passphrase-file",
            paramLabel = "FILE",
            description = "file whose first line is the passphrase, readable by you alone")
    private Path file;

    @Option(
            names = "--passphrase-env",
            paramLabel = "NAME",
            description = "name of an environment variable that holds the passphrase")
    private String variable;

    /** The key in a file, opened with the passphrase that is given or asked for; says what its owner should see to. */
    SigningKey open(Path key, PrintWriter advice) throws Complaint {
        char[] passphrase = passphrase("Passphrase: ", false);
        try {
            SigningKey opened = SigningKey.load(key, passphrase);
            KeyCare.advice(key, passphrase).forEach(advice::println);
            advice.flush();
            return opened;
        } catch (SigningException e) {
            throw Complaint.of(Sysexits.NO_INPUT, e);
        } finally {
            Arrays.fill(passphrase, ' ');
        }
    }

    /** The passphrase for a new key, asked for twice, since a mistyped one would lock it. */
    char[] forNewKey() throws Complaint {
        char[] passphrase = passphrase("Passphrase: ", true);
        requireStrong(passphrase);
        return passphrase;
    }

    /** What opens the key file that is to be renewed. */
    char[] ofOldKey() throws Complaint {
        return passphrase("Passphrase of the old file: ", false);
    }

    /** What the renewed file is to have: what {@code fresh} holds, else an answer, else the old one once more. */
    char[] forRenewedKey(char[] old, Path fresh) throws Complaint {
        char[] passphrase;
        if (fresh != null) {
            passphrase = fromFile(fresh);
        } else if (file != null || variable != null) {
            passphrase = old.clone();
        } else {
            passphrase = ask("Passphrase of the new file: ", true);
        }
        requireStrong(passphrase);
        return passphrase;
    }

    private static char[] fromFile(Path file) throws Complaint {
        try {
            return Passphrases.fromFile(file);
        } catch (SigningException e) {
            throw Complaint.of(Sysexits.NO_INPUT, e);
        }
    }

    private static void requireStrong(char[] passphrase) throws Complaint {
        try {
            Passphrases.requireStrong(passphrase);
        } catch (SigningException e) {
            Arrays.fill(passphrase, ' ');
            throw Complaint.of(Sysexits.USAGE, e);
        }
    }

    private char[] passphrase(String question, boolean twice) throws Complaint {
        if (file != null && variable != null) {
            throw new Complaint(Sysexits.USAGE, "give --passphrase-file or --passphrase-env, not both");
        }
        if (file != null) {
            return fromFile(file);
        }
        try {
            if (variable != null) {
                return Passphrases.fromEnvironment(variable);
            }
        } catch (SigningException e) {
            throw Complaint.of(Sysexits.NO_INPUT, e);
        }
        return ask(question, twice);
    }

    private static char[] ask(String question, boolean twice) throws Complaint {
        Console console = Terminal.find()
                .orElseThrow(() -> new Complaint(
                        Sysexits.USAGE,
                        "no terminal to ask for the passphrase on; give --passphrase-file or --passphrase-env"));
        char[] first = console.readPassword("%s", question);
        if (first == null || first.length == 0) {
            throw new Complaint(Sysexits.USAGE, "no passphrase was given");
        }
        if (twice) {
            char[] second = console.readPassword("Once more: ");
            boolean same = second != null && Arrays.equals(first, second);
            if (second != null) {
                Arrays.fill(second, ' ');
            }
            if (!same) {
                throw new Complaint(Sysexits.USAGE, "the two passphrases differ; nothing was made");
            }
        }
        return first;
    }
}
