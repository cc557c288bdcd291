// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import dev.loadwitness.reporter.signature.SigningException;
import dev.loadwitness.reporter.signature.SigningKey;
import java.io.PrintWriter;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.time.Duration;
import java.time.Instant;
import java.time.temporal.ChronoUnit;
import java.util.Arrays;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Mixin;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.ParameterException;
import picocli.CommandLine.Spec;

@Command(
        name = "signing-key",
        description = "Makes a self-signed key for signing reports. See docs/signing.md for what it proves.",
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:the key was made",
            "64:wrong usage",
            "66:no passphrase",
            "70:a defect of this program, or not enough memory for Java: nothing was decided",
            "73:the file cannot be made"
        },
        footer = {
            "",
            "Example:",
            "  loadwitness-reporter signing-key --out bench-key.p12 --certificate fernhollow.pem --name 'Fernhollow Board Repair'"
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

    @Option(names = "--name", required = true, paramLabel = "NAME", description = "who signs, as it stands in the key")
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

    @Option(names = "--quiet", description = "print nothing")
    private boolean quiet;

    @Override
    public Integer call() throws Complaint {
        if (years < 1 || years > MOST_YEARS) {
            throw new ParameterException(spec.commandLine(), "--years is " + years + "; give 1 to " + MOST_YEARS);
        }
        char[] passphrase = keys.passphrase(true);
        try {
            // An hour back, so that a report signed at once on a computer whose clock is a little behind is in time.
            Instant begin = Instant.now().minus(1, ChronoUnit.HOURS).truncatedTo(ChronoUnit.SECONDS);
            SigningKey key = SigningKey.createSelfSigned(
                    name,
                    organisation == null ? name : organisation,
                    begin,
                    Duration.ofDays((long) years * DAYS_A_YEAR),
                    new SecureRandom());
            key.writePkcs12(out, passphrase);
            if (certificate != null) {
                key.writeCertificate(certificate);
            }
            if (!quiet) {
                PrintWriter writer = spec.commandLine().getOut();
                writer.println(out);
                writer.println("Fingerprint (SHA-256): " + key.sha256Fingerprint());
                writer.println("Hand this fingerprint to customers by another way than the report itself.");
                writer.flush();
            }
            return Exit.PASS;
        } catch (SigningException e) {
            throw new Complaint(Exit.CANNOT_CREATE, e.getMessage());
        } finally {
            Arrays.fill(passphrase, ' ');
        }
    }
}
