// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.command.Sysexits;
import java.io.ByteArrayOutputStream;
import java.io.File;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.Tag;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** {@code certify} and {@code verify} as a shop and its customer use them, on a run that was recorded for real. */
@Tag("keys")
final class CertificateTest {
    private static final Path RUN = Path.of("..", "sample-runs", "real-quick-check", "run.jsonl");

    @TempDir
    private static Path folder;

    private static Path key;
    private static Path pinned;
    private static Path strangers;
    private static Path signed;
    private static String fingerprint;

    @BeforeAll
    static void sign() throws Exception {
        Path passphrase = Files.createFile(
                folder.resolve("passphrase"),
                PosixFilePermissions.asFileAttribute(PosixFilePermissions.fromString("rw-------")));
        Files.writeString(passphrase, "correct horse on a bench\n");
        key = folder.resolve("key.p12");
        pinned = folder.resolve("key.pem");
        strangers = folder.resolve("stranger.pem");
        String said = ok(reporter(
                "signing-key", "--out", key.toString(), "--certificate", pinned.toString(), "--name", "Fernhollow"));
        fingerprint = said.replaceAll("(?s).*\\(SHA-256\\): ([0-9a-f]{64}).*", "$1");
        ok(reporter(
                "signing-key",
                "--out",
                folder.resolve("stranger.p12").toString(),
                "--certificate",
                strangers.toString(),
                "--name",
                "Fernhollow"));
        signed = folder.resolve("signed.pdf");
        Said certified = reporter("certify", RUN.toString(), "--out", signed.toString(), "--key", key.toString());
        assertThat(certified.status).as(certified.text).isEqualTo(Exit.INCONCLUSIVE);
        assertThat(certified.text)
                .contains("this is a report, not a certificate", "for the invoice: " + fingerprint, "Report number: ");
    }

    @Test
    void genuineReportIsVerifiedDownToItsPages() {
        Said said = reporter("verify", signed.toString(), "--trusted", pinned.toString(), "--fingerprint", fingerprint);

        assertThat(said.text)
                .contains(
                        "Signature: valid, covers the whole file",
                        "who that is (the key vouches for its own name)",
                        "Signer: the certificate in",
                        "Log inside: chain whole",
                        "Verdict: inconclusive, judged again from the log inside with the same result.",
                        "byte for byte what this program prints");
        assertThat(said.status).isEqualTo(Exit.PASS);
    }

    @Test
    void anotherKeyOfTheSameNameIsNotTheTrustedOne() {
        Said said = reporter("verify", signed.toString(), "--trusted", strangers.toString());

        assertThat(said.text).contains("Signer: NOT one that");
        assertThat(said.status).isEqualTo(Exit.FAIL);
    }

    @Test
    void anotherFingerprintIsToldBeforeAnythingElseAboutTheSigner() {
        Said said = reporter("verify", signed.toString(), "--fingerprint", "00".repeat(32));

        assertThat(said.text.lines().toList().get(1)).startsWith("Signer: NOT the one asked for");
        assertThat(said.status).isEqualTo(Exit.FAIL);
    }

    /** Nobody signed it, so not who was asked for either. */
    @Test
    void aFingerprintAskedOfAnUnsignedReportOrALogIsNotMet() {
        Path plain = folder.resolve("nobody.pdf");
        reporter("certify", RUN.toString(), "--out", plain.toString(), "--unsigned");
        for (Path file : List.of(plain, RUN)) {
            Said said = reporter("verify", file.toString(), "--fingerprint", "00".repeat(32));

            assertThat(said.text).as("%s", file).contains("Signer: NOT the one asked for");
            assertThat(said.status).as("%s", file).isEqualTo(Exit.FAIL);
        }
        assertThat(reporter("verify", plain.toString()).status).isEqualTo(Exit.INCONCLUSIVE);
    }

    @Test
    void aFingerprintOfTheWrongLengthIsWrongUsageWhateverTheFile() {
        assertThat(reporter("verify", folder.resolve("absent.pdf").toString(), "--fingerprint", "00").status)
                .isEqualTo(Sysexits.USAGE);
    }

    @Test
    void aFileThatIsNoCertificateIsNamed() throws IOException {
        Path none = Files.writeString(folder.resolve("none.pem"), "nothing");

        assertThat(reporter("verify", signed.toString(), "--trusted", none.toString()).status)
                .isEqualTo(Sysexits.NO_INPUT);
    }

    /** The holder of a key can sign any pages: those that do not follow from the log inside are told. */
    @Test
    void pagesThatSayOtherwiseThanTheirLogAreNotGenuine() throws Exception {
        Path plain = folder.resolve("plain.pdf");
        reporter("certify", RUN.toString(), "--out", plain.toString(), "--unsigned");
        byte[] bytes = Files.readAllBytes(plain);
        // The title in the metadata, of the same length: nothing but the page's own words differ.
        String forged =
                new String(bytes, StandardCharsets.ISO_8859_1).replace("Burn-in report: INC", "Burn-in certificate");
        assertThat(forged).isNotEqualTo(new String(bytes, StandardCharsets.ISO_8859_1));
        Path other = Files.write(folder.resolve("forged.pdf"), forged.getBytes(StandardCharsets.ISO_8859_1));

        assertThat(reporter("verify", plain.toString()).text).contains("byte for byte what this program prints");
        assertThat(reporter("verify", other.toString()).text)
                .contains("Pages: NOT byte for byte what this program prints");
    }

    @Test
    void correctedReportNamesTheOneItReplaces() throws Exception {
        Path corrected = folder.resolve("corrected.pdf");
        Said said = reporter(
                "certify",
                RUN.toString(),
                "--out",
                corrected.toString(),
                "--unsigned",
                "--replaces",
                "20261124-0123ABCD",
                "--reason",
                "The serial number was wrong.",
                "--paper",
                "letter",
                "--locale",
                "de");

        assertThat(said.status).as(said.text).isEqualTo(Exit.INCONCLUSIVE);
        assertThat(reporter("verify", corrected.toString()).text).contains("byte for byte what this program prints");
        assertThat(reporter("certify", RUN.toString(), "--out", "x.pdf", "--unsigned", "--replaces", "1").status)
                .isEqualTo(Sysexits.USAGE);
    }

    @Test
    void unknownPaperAndLocaleAreRefusedWithWhatIsKnown() {
        assertThat(reporter("certify", RUN.toString(), "--out", "x.pdf", "--unsigned", "--paper", "a5").text)
                .contains("give a4 or letter");
        assertThat(reporter("certify", RUN.toString(), "--out", "x.pdf", "--unsigned", "--locale", "th").text)
                .contains("known are cs, da, de");
    }

    @Test
    void keyThatOthersCanReadIsWarnedOf() throws Exception {
        Path open = Files.copy(key, folder.resolve("open.p12"));
        Files.setPosixFilePermissions(open, PosixFilePermissions.fromString("rw-r--r--"));
        Said said = reporter(
                "certify", RUN.toString(), "--out", folder.resolve("open.pdf").toString(), "--key", open.toString());

        assertThat(said.text).contains("Others can read", "chmod 600");
        assertThat(PosixFilePermissions.toString(Files.getPosixFilePermissions(key)))
                .isEqualTo("rw-------");
    }

    @Test
    void simulatedRunIsNeverSigned() throws Exception {
        Path simulated = folder.resolve("simulated.pdf");
        Said said = reporter(
                "certify",
                Path.of("..", "sample-runs", "rails-pass", "run.jsonl").toString(),
                "--out",
                simulated.toString(),
                "--key",
                key.toString());

        assertThat(said.text).contains("Not signed: a simulated run says nothing about a machine.");
        assertThat(reporter("verify", simulated.toString()).text).contains("Not signed.");
    }

    /** In processes of their own, with the clock given as reproducible-builds.org asks; signature included. */
    @Test
    void localeAndTimeZoneChangeNoByteOfASignedReport() throws Exception {
        byte[] here = certifiedElsewhere("one.pdf", "-Duser.language=en", "-Duser.timezone=UTC");

        assertThat(Arrays.mismatch(
                        certifiedElsewhere(
                                "two.pdf",
                                "-Duser.language=ar",
                                "-Duser.country=EG",
                                "-Duser.extensions=nu-arab",
                                "-Duser.timezone=Pacific/Chatham",
                                "-Dfile.encoding=ISO-8859-1"),
                        here))
                .isEqualTo(-1);
    }

    private static byte[] certifiedElsewhere(String name, String... jvm) throws Exception {
        Path out = folder.resolve(name);
        List<String> command = new ArrayList<>();
        command.add(Path.of(System.getProperty("java.home"), "bin", "java").toString());
        command.addAll(List.of(jvm));
        command.addAll(List.of(
                "-cp",
                System.getProperty("surefire.test.class.path", System.getProperty("java.class.path")),
                Main.class.getName(),
                "certify",
                RUN.toString(),
                "--out",
                out.toString(),
                "--key",
                key.toString(),
                "--passphrase-file",
                folder.resolve("passphrase").toString()));
        ProcessBuilder java = new ProcessBuilder(command).redirectErrorStream(true);
        java.environment().putAll(Map.of("SOURCE_DATE_EPOCH", notBefore()));
        Process process = java.start();
        String said = new String(process.getInputStream().readAllBytes(), StandardCharsets.UTF_8);
        assertThat(process.waitFor()).as(said).isEqualTo(Exit.INCONCLUSIVE);
        return Files.readAllBytes(out);
    }

    /** A second at which the key, made a moment ago, is valid already. */
    private static String notBefore() throws IOException {
        return Long.toString(Files.getLastModifiedTime(key).toInstant().getEpochSecond());
    }

    private record Said(int status, String text) {}

    private static String ok(Said said) {
        assertThat(said.status).as(said.text).isZero();
        return said.text;
    }

    private static Said reporter(String... arguments) {
        List<String> all = new ArrayList<>(List.of(arguments));
        if (all.contains("--key") || all.get(0).equals("signing-key")) {
            all.addAll(List.of("--passphrase-file", folder + File.separator + "passphrase"));
        }
        PrintStream out = System.out;
        PrintStream err = System.err;
        ByteArrayOutputStream said = new ByteArrayOutputStream();
        PrintStream both = new PrintStream(said, true, StandardCharsets.UTF_8);
        try {
            System.setOut(both);
            System.setErr(both);
            int status = Main.run(all.toArray(String[]::new));
            return new Said(status, said.toString(StandardCharsets.UTF_8));
        } finally {
            System.setOut(out);
            System.setErr(err);
        }
    }
}
