// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.signature.KeyCare;
import dev.loadwitness.runlog.command.Sysexits;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.util.ArrayList;
import java.util.List;
import java.util.regex.Pattern;
import org.junit.jupiter.api.AfterEach;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Tag;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

/** {@code signing-key}: what protects a shop's key, and what is left when it fails. */
@Tag("keys")
final class SigningKeyCommandTest {
    private static final String PASSPHRASE = "kettle orbit plaster nine";

    @TempDir
    private Path folder;

    private Path key;
    private Path certificate;
    private String allSaid = "";

    @BeforeEach
    void names() {
        key = folder.resolve("key.p12");
        certificate = folder.resolve("key.pem");
    }

    /** Whatever was done, no message repeated the passphrase. */
    @AfterEach
    void passphraseWasNeverPrinted() {
        assertThat(allSaid).doesNotContain(PASSPHRASE);
    }

    @ParameterizedTest
    @ValueSource(strings = {"x", "fourteen chars", "aaaaaaaaaaaaaaaaaaaaaaaa", "abcabcabcabcabcabc"})
    void passphraseThatIsTooEasilyGuessedMakesNoKey(String weak) throws Exception {
        Said said = make(secret(weak), "--certificate", certificate.toString());

        assertThat(said.status).as(said.text).isEqualTo(Sysexits.USAGE);
        assertThat(said.text).contains("for a new key", "four or five words").doesNotContain("'" + weak + "'");
        assertThat(key).doesNotExist();
        assertThat(certificate).doesNotExist();
    }

    @Test
    void eachGuessAtANewKeyFileCostsWhatIsAskedTodayAndOthersOpenIt() throws Exception {
        made(make(secret(PASSPHRASE)));

        String shown =
                run("openssl", "pkcs12", "-in", key.toString(), "-info", "-noout", "-passin", "pass:" + PASSPHRASE);
        assertThat(iterations("MAC: sha256, Iteration ([0-9]+)", shown))
                .singleElement()
                .satisfies(n -> {
                    // One hash a step, where PBKDF2 with HMAC needs two.
                    assertThat(n).isGreaterThanOrEqualTo(1_200_000);
                });
        assertThat(iterations("PBES2, PBKDF2, AES-256-CBC, Iteration ([0-9]+), PRF hmacWithSHA256", shown))
                .hasSize(2)
                .allSatisfy(n -> assertThat(n).isGreaterThanOrEqualTo(600_000));
        String keytool =
                Path.of(System.getProperty("java.home"), "bin", "keytool").toString();
        assertThat(run(keytool, "-list", "-keystore", key.toString(), "-storepass", PASSPHRASE))
                .contains("PrivateKeyEntry");
        assertThat(KeyCare.advice(key, PASSPHRASE.toCharArray())).isEmpty();
    }

    @Test
    void olderKeySignsAsBeforeAndIsRenewedUnderTheSameFingerprint() throws Exception {
        Path old = older("abc");
        Files.setPosixFilePermissions(old, PosixFilePermissions.fromString("rw-r--r--"));

        Said certified = reporter(
                "certify",
                "../sample-runs/real-quick-check/run.jsonl",
                "--out",
                folder + "/r.pdf",
                "--key",
                old.toString(),
                "--passphrase-file",
                secret("abc"));
        assertThat(certified.status).as(certified.text).isEqualTo(Exit.INCONCLUSIVE);
        assertThat(certified.text)
                .contains(
                        "Others can read " + old,
                        "each guess costs",
                        "shorter than the 15",
                        "signing-key --renew " + old);

        made(reporter(
                "signing-key",
                "--renew",
                old.toString(),
                "--out",
                key.toString(),
                "--passphrase-file",
                secret("abc"),
                "--new-passphrase-file",
                secret(PASSPHRASE)));

        assertThat(KeyCare.advice(key, PASSPHRASE.toCharArray())).isEmpty();
        assertThat(fingerprint(key, PASSPHRASE)).isEqualTo(fingerprint(old, "abc"));
    }

    @Test
    void renewalKeepsAPassphraseThatIsLongEnoughAndRefusesOneThatIsNot() throws Exception {
        Path old = older(PASSPHRASE);

        made(reporter(
                "signing-key",
                "--renew",
                old.toString(),
                "--out",
                key.toString(),
                "--passphrase-file",
                secret(PASSPHRASE)));
        assertThat(fingerprint(key, PASSPHRASE)).isEqualTo(fingerprint(old, PASSPHRASE));

        Path third = folder.resolve("third.p12");
        Said refused = reporter(
                "signing-key",
                "--renew",
                old.toString(),
                "--out",
                third.toString(),
                "--passphrase-file",
                secret(PASSPHRASE),
                "--new-passphrase-file",
                secret("abc"));
        assertThat(refused.status).isEqualTo(Sysexits.USAGE);
        assertThat(third).doesNotExist();
    }

    @Test
    void keyAndCertificateAreMadeTogetherOrNotAtAll() throws Exception {
        String secret = secret(PASSPHRASE);
        Files.writeString(certificate, "precious");
        assertNothingMade(make(secret, "--certificate", certificate.toString()), "exists already");
        assertThat(certificate).hasContent("precious");

        assertNothingMade(make(secret, "--certificate", folder + "/none/key.pem"), "cannot be written");
        assertNothingMade(make(secret, "--certificate", key.toString()), "Give two names");
        Files.createDirectory(folder.resolve("x"));
        assertNothingMade(make(secret, "--certificate", folder + "/x/../key.p12"), "Give two names");

        Files.delete(certificate);
        key = folder.resolve("none").resolve("key.p12");
        assertNothingMade(make(secret, "--certificate", certificate.toString()), "there is no folder");
        assertThat(certificate).doesNotExist();
    }

    @Test
    void passphraseFileThatOthersCanReadIsRefused() throws Exception {
        for (String mode : List.of("rw-r-----", "rw----r--", "rw--w----")) {
            Path file = Path.of(secret(PASSPHRASE));
            Files.setPosixFilePermissions(file, PosixFilePermissions.fromString(mode));
            Said said = make(file.toString());
            assertThat(said.status).as(said.text).isEqualTo(Sysexits.NO_INPUT);
            assertThat(said.text).contains("others can read it", "chmod 600");
            assertThat(key).doesNotExist();
        }
    }

    @Test
    @Timeout(300) // a pipe that nobody writes to would be waited for without end
    void passphraseIsReadFromPlainFilesOnlyAndNeverWaitedFor() throws Exception {
        Path pipe = folder.resolve("pipe");
        run("mkfifo", "-m", "600", pipe.toString());
        for (Path file : List.of(pipe, Path.of("/dev/zero"), folder)) {
            Said said = make(file.toString());
            assertThat(said.status).as(said.text).isEqualTo(Sysexits.NO_INPUT);
            assertThat(said.text).contains("not a file");
        }
    }

    @Test
    void wrongPassphraseIsSaidWithoutRepeatingIt() throws Exception {
        Path old = older("another one");
        Said said = reporter(
                "signing-key",
                "--renew",
                old.toString(),
                "--out",
                folder + "/new.p12",
                "--passphrase-file",
                secret(PASSPHRASE));

        assertThat(said.status).isEqualTo(Sysexits.NO_INPUT);
        assertThat(said.text).contains("the passphrase is wrong");
    }

    /** A key file as openssl makes it without being told how often to hash. */
    private Path older(String passphrase) throws Exception {
        Path old = folder.resolve("old.p12");
        run(
                "sh",
                "-c",
                "openssl req -x509 -newkey rsa:2048 -nodes -subj '/CN=Bench 1' -days 3650 -keyout plain -out crt"
                        + " && openssl pkcs12 -export -inkey plain -in crt -passout \"pass:$1\" -out old.p12",
                "sh",
                passphrase);
        return old;
    }

    private Said make(String secret, String... more) {
        List<String> command = new ArrayList<>(
                List.of("signing-key", "--out", key.toString(), "--name", "Fernhollow", "--passphrase-file", secret));
        command.addAll(List.of(more));
        return reporter(command.toArray(String[]::new));
    }

    private void assertNothingMade(Said said, String words) {
        assertThat(said.status).as(said.text).isEqualTo(Sysexits.CANNOT_CREATE);
        assertThat(said.text).contains(words);
        assertThat(key).doesNotExist();
    }

    private void made(Said said) {
        assertThat(said.status).as(said.text).isZero();
    }

    /** A file that holds the passphrase and is its owner's alone. */
    private String secret(String passphrase) throws IOException {
        Path file = Files.createTempFile(folder, "secret", "");
        return Files.writeString(file, passphrase + "\n").toString();
    }

    private String fingerprint(Path file, String passphrase) throws Exception {
        String pem = run("openssl", "pkcs12", "-in", file.toString(), "-nokeys", "-passin", "pass:" + passphrase);
        Path out = Files.writeString(folder.resolve("shown.pem"), pem);
        return run("openssl", "x509", "-in", out.toString(), "-noout", "-fingerprint", "-sha256");
    }

    private static List<Integer> iterations(String pattern, String text) {
        return Pattern.compile(pattern)
                .matcher(text)
                .results()
                .map(found -> Integer.valueOf(found.group(1)))
                .toList();
    }

    private String run(String... command) throws Exception {
        Process process = new ProcessBuilder(command)
                .directory(folder.toFile())
                .redirectErrorStream(true)
                .start();
        process.getOutputStream().close();
        String text = new String(process.getInputStream().readAllBytes(), StandardCharsets.UTF_8);
        assertThat(process.waitFor()).as(text).isZero();
        return text;
    }

    private record Said(int status, String text) {}

    private Said reporter(String... arguments) {
        PrintStream out = System.out;
        PrintStream err = System.err;
        ByteArrayOutputStream said = new ByteArrayOutputStream();
        PrintStream both = new PrintStream(said, true, StandardCharsets.UTF_8);
        try {
            System.setOut(both);
            System.setErr(both);
            int status = Main.run(arguments);
            allSaid += said.toString(StandardCharsets.UTF_8);
            return new Said(status, said.toString(StandardCharsets.UTF_8));
        } finally {
            System.setOut(out);
            System.setErr(err);
        }
    }
}
