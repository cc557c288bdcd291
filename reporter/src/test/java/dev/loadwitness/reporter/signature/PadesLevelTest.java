// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import static org.assertj.core.api.Assertions.assertThat;

import eu.europa.esig.dss.detailedreport.DetailedReport;
import eu.europa.esig.dss.diagnostic.SignatureWrapper;
import eu.europa.esig.dss.enumerations.Indication;
import eu.europa.esig.dss.enumerations.SignatureLevel;
import eu.europa.esig.dss.model.InMemoryDocument;
import eu.europa.esig.dss.model.x509.CertificateToken;
import eu.europa.esig.dss.pades.validation.PDFDocumentValidator;
import eu.europa.esig.dss.spi.validation.CommonCertificateVerifier;
import eu.europa.esig.dss.spi.x509.CommonTrustedCertificateSource;
import eu.europa.esig.dss.validation.reports.Reports;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.cert.X509Certificate;
import java.time.Instant;
import java.time.temporal.ChronoUnit;
import java.util.Date;
import java.util.HexFormat;
import java.util.List;
import java.util.Map;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/**
 * The signature as three readers see it that share no code with its maker: the European Commission's DSS (version in the
 * root's pom), Poppler's pdfsig, and openssl. PAdES baseline B is ETSI EN 319 142-1.
 */
final class PadesLevelTest {
    @TempDir
    private Path folder;

    @Test
    void dssCallsBothKindsOfKeyBaselineBAndTotallyPassed() throws Exception {
        for (SigningKey key : List.of(Sample.RSA, Sample.EC_P256)) {
            assertBaselineB(Sample.signed(key), key.certificate(), Sample.NOW);
        }
    }

    /** A key of the shop's own PKI: root, issuing authority, signer; all made by openssl. */
    @Test
    void keyOfAnOwnAuthoritySignsTheSame() throws Exception {
        Path p12 = authority();
        SigningKey key = SigningKey.load(p12, "correct horse".toCharArray());
        Instant now = Instant.now().truncatedTo(ChronoUnit.SECONDS);
        byte[] signed = PdfSigner.sign(Sample.pdf(Map.of("run.jsonl", new byte[] {'\n'})), key, now, "Burn-in report");
        PdfSignatureCheck.Valid valid = (PdfSignatureCheck.Valid) PdfSignatureCheck.check(signed);

        assertThat(valid.selfSigned()).isFalse();
        assertThat(valid.subject()).isEqualTo("CN=Bench 1,O=Fernhollow Board Repair");
        assertThat(valid.chain()).hasSize(3);
        assertThat(standing("root.pem", valid)).isEqualTo(TrustedSigners.Standing.BY_ISSUER);
        assertThat(standing("issuing.pem", valid)).isEqualTo(TrustedSigners.Standing.BY_ISSUER);
        assertThat(standing("bench.pem", valid)).isEqualTo(TrustedSigners.Standing.ITSELF);
        assertThat(standing("stranger.pem", valid)).isEqualTo(TrustedSigners.Standing.NOT);
        // Pinned, because DSS asks for revocation data below any other anchor, and this authority publishes none.
        assertBaselineB(signed, valid.chain().get(0), now);
        assertOpensslAccepts(signed, folder.resolve("root.pem"));
    }

    @Test
    void pdfsigAndOpensslAcceptTheSignature() throws Exception {
        byte[] signed = Sample.signed(Sample.RSA);
        Path file = Files.write(folder.resolve("signed.pdf"), signed);
        Path signer = folder.resolve("signer.pem");
        Sample.RSA.writeCertificate(signer);

        assertThat(run("pdfsig", "-nocert", file.toString()))
                .contains("Signature is Valid", "Total document signed", "ETSI.CAdES.detached")
                .doesNotContain("Signature #2");
        assertOpensslAccepts(signed, signer);
    }

    private TrustedSigners.Standing standing(String file, PdfSignatureCheck.Valid valid) throws SigningException {
        return TrustedSigners.load(folder.resolve(file)).of(valid);
    }

    private static void assertBaselineB(byte[] signed, X509Certificate trusted, Instant at) {
        CommonTrustedCertificateSource anchors = new CommonTrustedCertificateSource();
        anchors.addCertificate(new CertificateToken(trusted));
        CommonCertificateVerifier verifier = new CommonCertificateVerifier();
        verifier.setTrustedCertSources(anchors);
        PDFDocumentValidator validator = new PDFDocumentValidator(new InMemoryDocument(signed, "report.pdf"));
        validator.setCertificateVerifier(verifier);
        validator.setValidationTime(Date.from(at.plusSeconds(60)));
        Reports reports = validator.validateDocument();
        SignatureWrapper signature = reports.getDiagnosticData().getSignatures().get(0);
        DetailedReport details = reports.getDetailedReport();

        assertThat(reports.getDiagnosticData().getSignatures()).hasSize(1);
        assertThat(signature.getSignatureFormat()).isEqualTo(SignatureLevel.PAdES_BASELINE_B);
        assertThat(signature.isSignatureIntact()).isTrue();
        assertThat(signature.isSignatureValid()).isTrue();
        assertThat(signature.arePdfObjectModificationsDetected()).isFalse();
        assertThat(details.getBasicValidationIndication(signature.getId()))
                .as("%s", reports.getSimpleReport().getAdESValidationErrors(signature.getId()))
                .isEqualTo(Indication.PASSED);
        assertThat(reports.getSimpleReport().getIndication(signature.getId())).isEqualTo(Indication.TOTAL_PASSED);
    }

    private void assertOpensslAccepts(byte[] signed, Path trusted) throws Exception {
        Matcher range = Pattern.compile("/ByteRange ?\\[0 (\\d+) (\\d+) (\\d+)")
                .matcher(new String(signed, StandardCharsets.ISO_8859_1));
        assertThat(range.find()).isTrue();
        int end = Integer.parseInt(range.group(1));
        int again = Integer.parseInt(range.group(2));
        byte[] covered = new byte[end + signed.length - again];
        System.arraycopy(signed, 0, covered, 0, end);
        System.arraycopy(signed, again, covered, end, signed.length - again);
        Path content = Files.write(folder.resolve("covered.bin"), covered);
        Path cms = Files.write(
                folder.resolve("signature.der"),
                HexFormat.of().parseHex(new String(signed, end + 1, again - end - 2, StandardCharsets.ISO_8859_1)));

        assertThat(run(
                        "openssl",
                        "cms",
                        "-verify",
                        "-cades",
                        "-binary",
                        "-inform",
                        "DER",
                        "-in",
                        cms.toString(),
                        "-content",
                        content.toString(),
                        "-CAfile",
                        trusted.toString(),
                        "-purpose",
                        "any",
                        // The sample's key is of the sample's day.
                        "-no_check_time",
                        "-out",
                        "/dev/null"))
                .containsIgnoringCase("verification successful");
    }

    private Path authority() throws Exception {
        String folderName = folder + "/";
        make("root", "/CN=Fernhollow root", null, "basicConstraints=critical,CA:TRUE", "keyUsage=critical,keyCertSign");
        make(
                "issuing",
                "/CN=Fernhollow issuing",
                "root",
                "basicConstraints=critical,CA:TRUE,pathlen:0",
                "keyUsage=critical,keyCertSign");
        make(
                "bench",
                "/O=Fernhollow Board Repair/CN=Bench 1",
                "issuing",
                "basicConstraints=CA:FALSE",
                "keyUsage=critical,nonRepudiation");
        make("stranger", "/CN=Fernhollow root", null, "basicConstraints=critical,CA:TRUE", "keyUsage=keyCertSign");
        Files.writeString(
                folder.resolve("above.pem"),
                Files.readString(folder.resolve("issuing.pem")) + Files.readString(folder.resolve("root.pem")));
        run(
                "openssl",
                "pkcs12",
                "-export",
                "-inkey",
                folderName + "bench.key",
                "-in",
                folderName + "bench.pem",
                "-certfile",
                folderName + "above.pem",
                "-passout",
                "pass:correct horse",
                "-out",
                folderName + "bench.p12");
        return folder.resolve("bench.p12");
    }

    private void make(String name, String subject, String issuer, String constraints, String usage) throws Exception {
        String at = folder + "/" + name;
        List<String> command = new java.util.ArrayList<>(List.of(
                "openssl",
                "req",
                "-x509",
                "-newkey",
                "rsa:2048",
                "-nodes",
                "-days",
                "30",
                "-subj",
                subject,
                "-addext",
                constraints,
                "-addext",
                usage,
                "-keyout",
                at + ".key",
                "-out",
                at + ".pem"));
        if (issuer != null) {
            command.addAll(List.of("-CA", folder + "/" + issuer + ".pem", "-CAkey", folder + "/" + issuer + ".key"));
        }
        run(command.toArray(String[]::new));
    }

    private static String run(String... command) throws IOException, InterruptedException {
        Process process = new ProcessBuilder(command).redirectErrorStream(true).start();
        process.getOutputStream().close();
        String said = new String(process.getInputStream().readAllBytes(), StandardCharsets.UTF_8);
        assertThat(process.waitFor())
                .as("%s: %s", String.join(" ", command), said)
                .isZero();
        return said;
    }
}
