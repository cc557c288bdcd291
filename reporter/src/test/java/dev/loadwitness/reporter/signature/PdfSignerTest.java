// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.HexFormat;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.TimeZone;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

/** Against two programs that share no code with ours: pdfsig (poppler) and openssl. Without them this fails. */
final class PdfSignerTest {
    @TempDir
    Path folder;

    @ParameterizedTest
    @EnumSource(SignatureKind.class)
    void pdfsigFindsTheSignatureValidAndTheWholeDocumentCovered(SignatureKind kind) throws Exception {
        Path pdf = Files.write(folder.resolve("report.pdf"), Sample.signed(key(kind)));

        Output output = run("pdfsig", "-nocert", pdf.toString());

        assertThat(output.status()).as(output.text()).isZero();
        assertThat(output.text())
                .contains("Signature Validation: Signature is Valid.")
                .contains("Total document signed")
                .contains("Signature Type: ETSI.CAdES.detached")
                .contains("CN=M. Okonjo-Vale,O=Fernhollow Board Repair")
                .doesNotContain("Signature #2");
    }

    @ParameterizedTest
    @EnumSource(SignatureKind.class)
    void opensslAcceptsTheCmsWithItsCertificateAttribute(SignatureKind kind) throws Exception {
        SigningKey key = key(kind);
        Output output = openssl(key, Sample.signed(key), "-cades");

        assertThat(output.text()).contains("Verification successful");
        assertThat(output.status()).isZero();
    }

    @Test
    void opensslRefusesTheSameCmsForAnotherDocument() throws Exception {
        byte[] signed = Sample.signed(Sample.RSA);
        signed[signed.length - 3] ^= 1;

        Output output = openssl(Sample.RSA, signed, "-cades");

        assertThat(output.status()).isNotZero();
        assertThat(output.text()).contains("Verification failure");
    }

    @Test
    void noSigningTimeAttributeStandsInTheCms() throws Exception {
        byte[] signed = Sample.signed(Sample.RSA);
        openssl(Sample.RSA, signed, "-cades");

        Output output = run(
                "openssl",
                "cms",
                "-cmsout",
                "-print",
                "-inform",
                "DER",
                "-in",
                folder.resolve("signature.der").toString());

        assertThat(output.text()).contains("signingCertificateV2").doesNotContain("signingTime");
    }

    @Test
    void certificationCarriesNoMd5Digest() throws Exception {
        assertThat(new String(Sample.signed(Sample.RSA), ISO_8859_1))
                .contains("/DocMDP")
                .doesNotContain("DigestValue")
                .doesNotContain("DigestMethod")
                .doesNotContain("MD5");
    }

    @Test
    void rsaGivesTheSameBytesUnderEveryLocaleAndTimeZone() throws Exception {
        byte[] pdf = Sample.pdf(Map.of());
        byte[] expected = PdfSigner.sign(pdf, Sample.RSA, Sample.NOW, "Prüfbericht");
        Locale locale = Locale.getDefault();
        TimeZone zone = TimeZone.getDefault();
        try {
            for (String tag : List.of(
                    "en-US", "ar-EG-u-nu-arab", "th-TH-u-ca-buddhist-nu-thai", "tr-TR", "ja-JP-u-ca-japanese")) {
                for (String id : List.of("UTC", "Asia/Kathmandu", "Pacific/Kiritimati", "America/St_Johns")) {
                    Locale.setDefault(Locale.forLanguageTag(tag));
                    TimeZone.setDefault(TimeZone.getTimeZone(id));
                    assertThat(PdfSigner.sign(pdf, Sample.RSA, Sample.NOW, "Prüfbericht"))
                            .as("%s in %s", tag, id)
                            .isEqualTo(expected);
                }
            }
        } finally {
            Locale.setDefault(locale);
            TimeZone.setDefault(zone);
        }
    }

    @Test
    void timeOutsideTheCertificatesValidityIsRefused() {
        byte[] pdf = Sample.pdf(Map.of());
        Instant late = Sample.RSA.notAfter().plusSeconds(1);
        Instant early = Sample.RSA.notBefore().minusSeconds(1);

        assertThatThrownBy(() -> PdfSigner.sign(pdf, Sample.RSA, late, "x"))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining("expired at 2027-11-24T12:00:00Z")
                .hasMessageContaining("signing-key");
        assertThatThrownBy(() -> PdfSigner.sign(pdf, Sample.RSA, early, "x"))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining("valid only from 2026-11-24T12:00:00Z");
    }

    @Test
    void firstAndLastSecondOfTheValidityAreAccepted() throws Exception {
        byte[] pdf = Sample.pdf(Map.of());
        for (Instant at : List.of(Sample.RSA.notBefore(), Sample.RSA.notAfter().plus(Duration.ofMillis(900)))) {
            assertThat(PdfSignatureCheck.check(PdfSigner.sign(pdf, Sample.RSA, at, "x")))
                    .isInstanceOf(PdfSignatureCheck.Valid.class);
        }
    }

    @Test
    void signedReportIsNotSignedAgain() throws Exception {
        byte[] signed = Sample.signed(Sample.RSA);
        assertThatThrownBy(() -> PdfSigner.sign(signed, Sample.RSA, Sample.NOW, "x"))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining("signature already");
    }

    @Test
    void bytesThatAreNoPdfAreRefusedInWords() {
        byte[] text = "not a PDF".getBytes(UTF_8);
        assertThatThrownBy(() -> PdfSigner.sign(text, Sample.RSA, Sample.NOW, "x"))
                .isInstanceOf(SigningException.class);
        byte[] halfAPdf = "%PDF-1.7\nnothing".getBytes(UTF_8);
        assertThatThrownBy(() -> PdfSigner.sign(halfAPdf, Sample.RSA, Sample.NOW, "x"))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining("cannot be signed");
    }

    private static SigningKey key(SignatureKind kind) {
        return switch (kind) {
            case RSA -> Sample.RSA;
            case EC_P256 -> Sample.EC_P256;
            case EC_P384 -> Sample.key(SignatureKind.EC_P384);
        };
    }

    private Output openssl(SigningKey key, byte[] pdf, String option) throws IOException, InterruptedException {
        // Cut out by the document's own byte range, not by what our code thinks of it.
        Matcher range = Pattern.compile("/ByteRange ?\\[(\\d+) (\\d+) (\\d+) (\\d+) *\\]")
                .matcher(new String(pdf, ISO_8859_1));
        assertThat(range.find()).isTrue();
        int from = Integer.parseInt(range.group(2));
        int until = Integer.parseInt(range.group(3));
        ByteArrayOutputStream content = new ByteArrayOutputStream();
        content.write(pdf, 0, from);
        content.write(pdf, until, Integer.parseInt(range.group(4)));
        Path document = Files.write(folder.resolve("document.bin"), content.toByteArray());
        Path cms = Files.write(
                folder.resolve("signature.der"),
                HexFormat.of().parseHex(new String(pdf, from + 1, until - from - 2, ISO_8859_1)));
        Path certificate = Files.writeString(
                folder.resolve("certificate.pem"),
                "-----BEGIN CERTIFICATE-----\n"
                        + java.util.Base64.getMimeEncoder()
                                .encodeToString(key.encodedChain().get(0))
                        + "\n-----END CERTIFICATE-----\n");
        return run(
                "openssl",
                "cms",
                "-verify",
                option,
                "-binary",
                "-inform",
                "DER",
                "-in",
                cms.toString(),
                "-content",
                document.toString(),
                "-CAfile",
                certificate.toString(),
                "-purpose",
                "any",
                "-attime",
                Long.toString(Sample.NOW.getEpochSecond()),
                "-out",
                folder.resolve("out.bin").toString());
    }

    private record Output(int status, String text) {}

    private static Output run(String... command) throws IOException, InterruptedException {
        Process process = new ProcessBuilder(command).redirectErrorStream(true).start();
        String text = new String(process.getInputStream().readAllBytes(), UTF_8);
        return new Output(process.waitFor(), text);
    }
}
