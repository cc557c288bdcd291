// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import java.io.OutputStream;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.security.KeyPairGenerator;
import java.security.KeyStore;
import java.security.cert.Certificate;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Tag;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

@Tag("keys")
final class SigningKeyTest {
    private static final char[] PASSPHRASE = "fern hollow bench".toCharArray();

    @TempDir
    Path folder;

    @Test
    void writtenKeyIsReadBackWhole() throws Exception {
        Path file = folder.resolve("key.p12");
        Sample.RSA.writePkcs12(file, PASSPHRASE);

        SigningKey read = SigningKey.load(file, PASSPHRASE);

        assertThat(read.sha256Fingerprint())
                .isEqualTo(Sample.RSA.sha256Fingerprint())
                .matches("[0-9a-f]{64}");
        assertThat(read.subject()).isEqualTo("CN=M. Okonjo-Vale,O=Fernhollow Board Repair");
        assertThat(read.selfSigned()).isTrue();
        assertThat(read.notBefore()).isEqualTo("2026-11-24T12:00:00Z");
        assertThat(read.notAfter()).isEqualTo("2027-11-24T12:00:00Z");
        assertThat(Sample.signed(read)).isNotEmpty();
        assertThat(PosixFilePermissions.toString(Files.getPosixFilePermissions(file)))
                .isEqualTo("rw-------");
        try (var files = Files.list(folder)) {
            assertThat(files).containsExactly(file);
        }
    }

    @Test
    void opensslShowsTheSameFingerprintAndTheUsesOfTheKey() throws Exception {
        Path file = folder.resolve("key.p12");
        Sample.RSA.writePkcs12(file, PASSPHRASE);
        Process process = new ProcessBuilder(
                        "sh",
                        "-c",
                        "openssl pkcs12 -in \"$1\" -passin 'pass:fern hollow bench' -nokeys"
                                + " | openssl x509 -noout -text -fingerprint -sha256",
                        "sh",
                        file.toString())
                .redirectErrorStream(true)
                .start();
        String text = new String(process.getInputStream().readAllBytes(), UTF_8);
        assertThat(process.waitFor()).as(text).isZero();
        assertThat(text.toLowerCase(java.util.Locale.ROOT).replace(":", "")).contains(Sample.RSA.sha256Fingerprint());
        assertThat(text)
                .contains("Public-Key: (3072 bit)")
                .contains("Digital Signature, Non Repudiation")
                .contains("CA:FALSE")
                .contains("X509v3 Subject Key Identifier");
    }

    /** Iterations as openssl was told them; the shapes of files that shops have already. */
    @Test
    void leastStretchedPartOfAKeyFileCounts() throws Exception {
        assertThat(stretching("-iter", "700000")).isEqualTo(350_000); // of the MAC, which hashes once a step
        assertThat(stretching("-iter", "1300000")).isEqualTo(1_300_000 / 2);
        assertThat(stretching("-iter", "1300000", "-nomaciter")).isZero();
        assertThat(stretching()).isEqualTo(1024);
        assertThat(stretching("-keypbe", "PBE-SHA1-3DES", "-certpbe", "PBE-SHA1-3DES"))
                .isZero();
        assertThat(stretching("-keypbe", "NONE")).isZero();
        assertThat(stretching("-nomac")).isZero();
        assertThat(KeyStretching.weakest(new byte[] {1, 2, 3})).isZero();
    }

    private int stretching(String... options) throws Exception {
        Path plain = folder.resolve("plain.pem");
        if (!Files.exists(plain)) {
            openssl(
                    "req",
                    "-x509",
                    "-newkey",
                    "rsa:2048",
                    "-nodes",
                    "-subj",
                    "/CN=x",
                    "-keyout",
                    plain + ".key",
                    "-out",
                    plain.toString());
        }
        Path file = folder.resolve("stretched.p12");
        List<String> command = new ArrayList<>(List.of(
                "pkcs12",
                "-export",
                "-inkey",
                plain + ".key",
                "-in",
                plain.toString(),
                "-passout",
                "pass:abc",
                "-out",
                file.toString()));
        command.addAll(List.of(options));
        openssl(command.toArray(String[]::new));
        return KeyStretching.weakest(Files.readAllBytes(file));
    }

    private static void openssl(String... arguments) throws Exception {
        List<String> command = new ArrayList<>(List.of("openssl"));
        command.addAll(List.of(arguments));
        Process process = new ProcessBuilder(command).redirectErrorStream(true).start();
        String text = new String(process.getInputStream().readAllBytes(), UTF_8);
        assertThat(process.waitFor()).as(text).isZero();
    }

    @Test
    void existingFileIsNeverReplaced() throws Exception {
        Path file = Files.writeString(folder.resolve("key.p12"), "precious");
        assertThatThrownBy(() -> Sample.EC_P256.writePkcs12(file, PASSPHRASE))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining(file.toString())
                .hasMessageContaining("exists already");
        assertThat(file).hasContent("precious");
    }

    @Test
    void wrongPassphraseIsSaid() throws Exception {
        Path file = folder.resolve("key.p12");
        Sample.EC_P256.writePkcs12(file, PASSPHRASE);
        assertRefused(file, "other".toCharArray(), "the passphrase is wrong");
        assertRefused(file, new char[0], "the passphrase is wrong");
    }

    @Test
    void passphraseThatJavaCannotUseIsRefusedWithTheReason() throws Exception {
        Path file = folder.resolve("key.p12");
        char[] umlaut = "fern ü hollow bench".toCharArray();
        assertThatThrownBy(() -> Sample.EC_P256.writePkcs12(file, umlaut))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining("other than ASCII");
        assertThat(file).doesNotExist();
        Sample.EC_P256.writePkcs12(file, PASSPHRASE);
        assertRefused(file, umlaut, "other than ASCII");
    }

    @Test
    void whatIsNoKeyFileIsSaid() throws Exception {
        assertRefused(folder.resolve("none.p12"), PASSPHRASE, "no such file");
        assertRefused(folder, PASSPHRASE, "not a file");
        assertRefused(Files.writeString(folder.resolve("text"), "hello"), PASSPHRASE, "not a usable PKCS#12 file");
        assertRefused(Files.write(folder.resolve("big"), new byte[(1 << 20) + 1]), PASSPHRASE, "larger than 1 MiB");
    }

    @Test
    void fileWithoutExactlyOneKeyIsRefused() throws Exception {
        KeyStore none = empty();
        none.setCertificateEntry("only", Sample.RSA.certificate());
        assertRefused(store(none, "none"), PASSPHRASE, "no private key");

        Path one = folder.resolve("one.p12");
        Sample.EC_P256.writePkcs12(one, PASSPHRASE);
        KeyStore two = KeyStore.getInstance("PKCS12");
        try (var in = Files.newInputStream(one)) {
            two.load(in, PASSPHRASE);
        }
        two.setKeyEntry("second", two.getKey("loadwitness", PASSPHRASE), PASSPHRASE, new Certificate[] {
            Sample.EC_P256.certificate()
        });
        assertRefused(store(two, "two"), PASSPHRASE, "2 keys");
    }

    @Test
    void keyOfAnotherCertificateIsRefused() throws Exception {
        KeyPairGenerator generator = KeyPairGenerator.getInstance("RSA");
        generator.initialize(3072);
        KeyStore mixed = empty();
        mixed.setKeyEntry("mixed", generator.generateKeyPair().getPrivate(), PASSPHRASE, new Certificate[] {
            Sample.RSA.certificate()
        });
        assertRefused(store(mixed, "mixed"), PASSPHRASE, "does not belong to its certificate");
    }

    @Test
    void weakOrForeignKeysAreRefused() throws Exception {
        for (List<String> made : List.of(
                List.of("rsa:1024", "the RSA key has 1024 bits"),
                List.of("ed25519", "kind EdDSA, which is not used"))) {
            Path file = folder.resolve(made.get(0).replace(':', '-'));
            Process process = new ProcessBuilder(
                            "sh",
                            "-c",
                            "openssl req -x509 -newkey \"$1\" -nodes -subj /CN=x -keyout \"$2.key\" -out \"$2.crt\" &&"
                                    + " openssl pkcs12 -export -inkey \"$2.key\" -in \"$2.crt\" -passout pass:abc -out"
                                    + " \"$2\"",
                            "sh",
                            made.get(0),
                            file.toString())
                    .redirectErrorStream(true)
                    .start();
            String text = new String(process.getInputStream().readAllBytes(), UTF_8);
            assertThat(process.waitFor()).as(text).isZero();
            assertRefused(file, "abc".toCharArray(), made.get(1));
        }
    }

    @Test
    void passphraseComesFromTheFirstLineOfAFile() throws Exception {
        Path file = Files.writeString(ownersOnly("pass"), "fern ü hollow\r\nsecond\n");
        assertThat(Passphrases.fromFile(file)).isEqualTo("fern ü hollow".toCharArray());
        assertThatThrownBy(() -> Passphrases.fromFile(folder.resolve("none"))).hasMessageContaining("no such file");
        Path empty = Files.writeString(ownersOnly("empty"), "\nsecond\n");
        assertThatThrownBy(() -> Passphrases.fromFile(empty)).hasMessageContaining("first line is empty");
        Path latin = Files.write(ownersOnly("latin"), new byte[] {'a', (byte) 0xFC});
        assertThatThrownBy(() -> Passphrases.fromFile(latin)).hasMessageContaining("not UTF-8");
    }

    @Test
    void passphraseComesFromAnEnvironmentVariable() throws Exception {
        assertThat(Passphrases.fromEnvironment("P", Map.of("P", "abc"))).isEqualTo("abc".toCharArray());
        assertThatThrownBy(() -> Passphrases.fromEnvironment("P", Map.of()))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining("P for the passphrase is not set");
        assertThatThrownBy(() -> Passphrases.fromEnvironment("P", Map.of("P", "")))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining("is empty");
    }

    private static void assertRefused(Path file, char[] passphrase, String words) {
        assertThatThrownBy(() -> SigningKey.load(file, passphrase))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining(file.toString())
                .hasMessageContaining(words);
    }

    private Path ownersOnly(String name) throws Exception {
        return Files.createFile(
                folder.resolve(name),
                PosixFilePermissions.asFileAttribute(PosixFilePermissions.fromString("rw-------")));
    }

    private static KeyStore empty() throws Exception {
        KeyStore store = KeyStore.getInstance("PKCS12");
        store.load(null, null);
        return store;
    }

    private Path store(KeyStore store, String name) throws Exception {
        Path file = folder.resolve(name + ".p12");
        try (OutputStream out = Files.newOutputStream(file)) {
            store.store(out, PASSPHRASE);
        }
        return file;
    }
}
