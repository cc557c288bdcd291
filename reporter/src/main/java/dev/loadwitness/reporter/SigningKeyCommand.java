// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.signature.SigningException;
import dev.loadwitness.reporter.signature.SigningKey;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.time.Duration;
import java.time.Instant;
import java.time.temporal.ChronoUnit;
import java.util.Arrays;
import java.util.Optional;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Mixin;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Spec;

@Command(
        name = "signing-key",
        description = {
            "Makes a self-signed key for signing reports. See docs/signing.md for what it proves.",
            "With --renew: writes an older key again, the same key and certificate, as well protected as a new one."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:the key was made",
            "64:wrong usage, or a passphrase that is too easily guessed",
            "66:no passphrase, or the key to renew cannot be opened",
            "70:a defect of this program, or not enough memory for Java: nothing was decided",
            "73:the file cannot be made; nothing was made then"
        },
        footer = {
            "",
            "Example:",
            "  loadwitness-reporter signing-key --out bench-key.p12 --certificate fernhollow.pem --name 'Fernhollow Board Repair'",
            "  loadwitness-reporter signing-key --renew bench-key.p12 --out bench-key-2.p12"
        })
final class SigningKeyCommand implements Callable<Integer> {
    private static final int MOST_YEARS = 30;
    private static final int DAYS_A_YEAR = 365;

    @Spec
    private CommandSpec spec;

    @Mixin
    private Keys keys;

    @Option(names = "--out", required = true, paramLabel = "FILE", description = "the PKCS#12 file to make")
    private Path out;

    @Option(names = "--name", paramLabel = "NAME", description = "who signs, as it stands in the key")
    private String name;

    @Option(names = "--organisation", paramLabel = "NAME", description = "the shop (default: the name)")
    private String organisation;

    @Option(names = "--years", paramLabel = "N", defaultValue = "10", description = "validity (default: 10)")
    private int years;

    @Option(
            names = "--certificate",
            paramLabel = "FILE",
            description = "also write the certificate (PEM), to hand out: others pin it with 'verify --trusted'")
    private Path certificate;

    @Option(
            names = "--renew",
            paramLabel = "FILE",
            description = "write the key of this PKCS#12 file again, instead of making one; the file stays as it is")
    private Path renew;

    @Option(
            names = "--new-passphrase-file",
            paramLabel = "FILE",
            description =
                    "with --renew: file whose first line is the new file's passphrase (default: asked for where the"
                            + " old one is asked for, else the old one)")
    private Path newPassphrase;

    @Option(names = "--quiet", description = "print nothing")
    private boolean quiet;

    @Override
    public Integer call() throws Complaint {
        if (years < 1 || years > MOST_YEARS) {
            throw new ParameterException(spec.commandLine(), "--years is " + years + "; give 1 to " + MOST_YEARS);
        }
        if ((name == null) == (renew == null)) {
            throw new ParameterException(
                    spec.commandLine(), "give --name for a new key, or --renew for one that is there already");
        }
        if (newPassphrase != null && renew == null) {
            throw new ParameterException(spec.commandLine(), "--new-passphrase-file goes with --renew");
        }
        SigningKey key;
        try {
            SigningKey.requireNew(out, Optional.ofNullable(certificate));
            key = renew == null ? make() : writeAgain();
        } catch (SigningException e) {
            throw Complaint.of(Sysexits.CANNOT_CREATE, e);
        }
        if (!quiet) {
            PrintWriter writer = spec.commandLine().getOut();
            writer.println(out);
            writer.println("Fingerprint (SHA-256): " + key.sha256Fingerprint());
            writer.println(
                    renew == null
                            ? "Hand this fingerprint to customers by another way than the report itself."
                            : "The fingerprint is the old one's. Remove " + renew + " once the new file has signed.");
            writer.flush();
        }
        return Exit.PASS;
    }

    private SigningKey make() throws Complaint, SigningException {
        char[] passphrase = keys.forNewKey();
        try {
            // An hour back, so that a report signed at once on a computer whose clock is a little behind is in time.
            Instant begin = Instant.now().minus(1, ChronoUnit.HOURS).truncatedTo(ChronoUnit.SECONDS);
            SigningKey key = SigningKey.createSelfSigned(
                    name,
                    organisation == null ? name : organisation,
                    begin,
                    Duration.ofDays((long) years * DAYS_A_YEAR),
                    new SecureRandom());
            write(key, passphrase);
            return key;
        } finally {
            Arrays.fill(passphrase, ' ');
        }
    }

    private SigningKey writeAgain() throws Complaint, SigningException {
        char[] old = keys.ofOldKey();
        try {
            SigningKey key = load(old);
            char[] passphrase = keys.forRenewedKey(old, newPassphrase);
            try {
                write(key, passphrase);
                return key;
            } finally {
                Arrays.fill(passphrase, ' ');
            }
        } finally {
            Arrays.fill(old, ' ');
        }
    }

    private SigningKey load(char[] passphrase) throws Complaint {
        try {
            return SigningKey.load(renew, passphrase);
        } catch (SigningException e) {
            throw Complaint.of(Sysexits.NO_INPUT, e);
        }
    }

    private void write(SigningKey key, char[] passphrase) throws SigningException {
        if (certificate == null) {
            key.writePkcs12(out, passphrase);
        } else {
            key.writePair(out, passphrase, certificate);
        }
    }
}
