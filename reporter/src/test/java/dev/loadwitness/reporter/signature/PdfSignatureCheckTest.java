// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static org.assertj.core.api.Assertions.assertThat;

import com.lowagie.text.pdf.PdfDictionary;
import com.lowagie.text.pdf.PdfName;
import com.lowagie.text.pdf.PdfReader;
import com.lowagie.text.pdf.PdfSignature;
import com.lowagie.text.pdf.PdfSignatureAppearance;
import com.lowagie.text.pdf.PdfStamper;
import com.lowagie.text.pdf.PdfString;
import dev.loadwitness.reporter.signature.PdfSignatureCheck.Broken;
import dev.loadwitness.reporter.signature.PdfSignatureCheck.NotSigned;
import dev.loadwitness.reporter.signature.PdfSignatureCheck.Valid;
import java.io.ByteArrayOutputStream;
import java.time.Duration;
import java.util.Arrays;
import java.util.List;
import java.util.Map;
import java.util.Random;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

final class PdfSignatureCheckTest {
    private static final int SAMPLES = 2000;

    @Test
    void wholeSignatureNamesItsSignerAndTime() throws Exception {
        for (SigningKey key : List.of(Sample.RSA, Sample.EC_P256)) {
            assertThat(PdfSignatureCheck.check(Sample.signed(key)))
                    .isEqualTo(new Valid(
                            "CN=M. Okonjo-Vale,O=Fernhollow Board Repair",
                            key.sha256Fingerprint(),
                            true,
                            Sample.NOW,
                            List.of(key.certificate())));
        }
    }

    @Test
    void unsignedReportIsNotSigned() {
        assertThat(PdfSignatureCheck.check(Sample.pdf(Map.of()))).isEqualTo(new NotSigned());
    }

    @Test
    void noSampledSingleByteChangeIsAccepted() throws Exception {
        long seed = 20261125;
        Random random = new Random(seed);
        byte[] signed = Sample.signed(Sample.EC_P256);
        for (int i = 0; i < SAMPLES; i++) {
            int at = random.nextInt(signed.length);
            int change = 1 + random.nextInt(255);
            assertRefused(signed, at, change, "seed " + seed);
        }
    }

    @Test
    void noBitOfTheSignatureDictionaryCanBeFlipped() throws Exception {
        byte[] signed = Sample.signed(Sample.EC_P256);
        String text = new String(signed, ISO_8859_1);
        int mark = text.indexOf("/ByteRange");
        int from = text.lastIndexOf(" obj\n<<", mark) - 4;
        int until = text.indexOf("endobj", mark) + 6;
        assertThat(until - from).isGreaterThan(1500);
        for (int at = from; at < until; at++) {
            // 0x20 turns upper case into lower: a change that hexadecimal readers overlook.
            assertRefused(signed, at, 0x20, "dictionary");
            assertRefused(signed, at, 1 << (at % 5), "dictionary");
        }
    }

    private static void assertRefused(byte[] signed, int at, int change, String about) {
        byte[] changed = signed.clone();
        changed[at] ^= (byte) change;
        assertThat(PdfSignatureCheck.check(changed))
                .as("byte %d of %d changed by %d, %s", at, signed.length, change, about)
                .isInstanceOf(Broken.class);
    }

    @Test
    void changedPageIsSaidToBeChangedAfterSigning() throws Exception {
        byte[] signed = Sample.signed(Sample.RSA);
        signed[100] ^= 1;
        assertThat(PdfSignatureCheck.check(signed))
                .isEqualTo(new Broken("the document was changed after it was signed"));
    }

    @Test
    void appendedBytesAreCounted() throws Exception {
        byte[] signed = Sample.signed(Sample.RSA);
        assertThat(PdfSignatureCheck.check(Arrays.copyOf(signed, signed.length + 7)))
                .isEqualTo(new Broken("something of 7 bytes was appended after the document was signed"));
    }

    @Test
    void noTruncationIsAcceptedOrTakenForUnsigned() throws Exception {
        byte[] signed = Sample.signed(Sample.EC_P256);
        int unsigned = Sample.pdf(Map.of("run.jsonl", new byte[] {'{', '}', '\n'})).length;
        for (int length = 0; length < signed.length; length++) {
            PdfSignatureCheck.Result result = PdfSignatureCheck.check(Arrays.copyOf(signed, length));
            assertThat(result).as("cut at byte %d", length).isNotInstanceOf(Valid.class);
            // Cut back to before the signature nothing tells of it: that is the unsigned report again.
            if (length > unsigned + 100) {
                assertThat(result).as("cut at byte %d", length).isInstanceOf(Broken.class);
            }
        }
        assertThat(PdfSignatureCheck.check(Arrays.copyOf(signed, signed.length - 1)))
                .isEqualTo(new Broken("the end of the document is missing (1 bytes)"));
    }

    @Test
    void secondSignatureIsRefused() throws Exception {
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        PdfStamper stamper =
                PdfStamper.createSignature(new PdfReader(withoutCertification(Sample.RSA)), out, '\0', null, true);
        PdfSignatureAppearance appearance = stamper.getSignatureAppearance();
        appearance.setCryptoDictionary(new PdfSignature(PdfName.ADOBE_PPKLITE, new PdfName("ETSI.CAdES.detached")));
        appearance.preClose(new java.util.HashMap<>(Map.of(PdfName.CONTENTS, 202)));
        PdfDictionary contents = new PdfDictionary();
        contents.put(PdfName.CONTENTS, new PdfString(new byte[100]).setHexWriting(true));
        appearance.close(contents);

        assertThat(PdfSignatureCheck.check(out.toByteArray()))
                .isEqualTo(new Broken("there is more than one signature; this program makes exactly one"));
    }

    private static byte[] withoutCertification(SigningKey key) throws SigningException {
        // Certified documents cannot be signed again by OpenPDF; an attacker's tool would not mind.
        byte[] signed = Sample.signed(key);
        return new String(signed, ISO_8859_1).replace("/Perms<<", "/Permx<<").getBytes(ISO_8859_1);
    }

    @Test
    void paddedContentsAreRefused() throws Exception {
        String signed = new String(Sample.signed(Sample.RSA), ISO_8859_1);
        int end = signed.indexOf('>', signed.indexOf("/Contents <"));
        String padded = signed.substring(0, end - 2) + "00" + signed.substring(end);
        assertThat(PdfSignatureCheck.check(padded.getBytes(ISO_8859_1))).isInstanceOf(Broken.class);
    }

    @Test
    void signatureOfAnotherDocumentIsRefused() throws Exception {
        String one = new String(Sample.signed(Sample.RSA), ISO_8859_1);
        String other = new String(
                PdfSigner.sign(
                        Sample.pdf(Map.of("run.jsonl", new byte[] {'[', ']', '\n'})), Sample.RSA, Sample.NOW, "x"),
                ISO_8859_1);
        String mixed = other.replace(contents(other), contents(one));
        assertThat(PdfSignatureCheck.check(mixed.getBytes(ISO_8859_1)))
                .isEqualTo(new Broken("the document was changed after it was signed"));
    }

    private static String contents(String pdf) {
        int from = pdf.indexOf('<', pdf.indexOf("/Contents <3"));
        return pdf.substring(from, pdf.indexOf('>', from) + 1);
    }

    @Test
    @Timeout(60)
    void hostileBytesGetAResultNeverAnException() throws Exception {
        String deep = "<<".repeat(50_000);
        List<String> hostile = List.of(
                "",
                "%PDF-1.7 /ByteRange",
                "%PDF-1.7\n1 0 obj\n<</ByteRange[0 99999999999999999999 1 1]>>",
                "%PDF-1.7\n1 0 obj\n<</ByteRange[0 2147483647 2147483647 2147483647]>>endobj",
                "%PDF-1.7\n1 0 obj\n" + deep + "/ByteRange",
                "%PDF-1.7\n1 0 obj\n<</A" + "[".repeat(100_000) + "/ByteRange",
                "%PDF-1.7\n1 0 obj\n<</A" + "(".repeat(100_000) + "/ByteRange",
                "%PDF-1.7\n1 0 obj\n<</A/B#/ByteRange");
        for (String bytes : hostile) {
            assertThat(PdfSignatureCheck.check(bytes.getBytes(ISO_8859_1)))
                    .as(bytes.substring(0, Math.min(60, bytes.length())))
                    .isInstanceOf(Broken.class);
        }
        for (String cms : List.of("", "30", "3080", "30847fffffff", "3003020100", "a0".repeat(5000), nestedDer())) {
            assertThat(PdfSignatureCheck.check(withContents(cms)))
                    .as(cms.substring(0, Math.min(60, cms.length())))
                    .isInstanceOf(Broken.class);
        }
    }

    /** The right outer shape around a "certificate" of 8000 sequences in one another. */
    private static String nestedDer() {
        byte[] inside = {};
        for (int i = 0; i < 8000; i++) {
            inside = der(0x30, inside);
        }
        byte[] signer = der(0x30, join(der(2), der(0x30), der(0x30), der(0xA0), der(0x30), der(4, new byte[] {1})));
        byte[] data = der(0x30, join(der(2), der(0x31), der(0x30), der(0xA0, inside), der(0x31, signer)));
        return java.util.HexFormat.of().formatHex(der(0x30, join(der(6), der(0xA0, data))));
    }

    private static byte[] der(int tag, byte... content) {
        int n = content.length;
        byte[] head = n < 128
                ? new byte[] {(byte) tag, (byte) n}
                : new byte[] {(byte) tag, (byte) 0x83, (byte) (n >> 16), (byte) (n >> 8), (byte) n};
        return join(head, content);
    }

    private static byte[] join(byte[]... parts) {
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        for (byte[] part : parts) {
            out.writeBytes(part);
        }
        return out.toByteArray();
    }

    private static byte[] withContents(String hex) {
        String before = "%PDF-1.7\n1 0 obj\n<</Contents ";
        int from = before.length();
        int until = from + hex.length() + 2;
        String range = "/Type/Sig/Filter/Adobe.PPKLite/SubFilter/ETSI.CAdES.detached/M(D:20261125120000Z)/Reason(x)"
                + "/Reference[]/ByteRange[0 " + from + " " + until + " %04d]>>\nendobj\n";
        int rest = String.format(java.util.Locale.ROOT, range, 0).length();
        String text = before + "<" + hex + ">" + String.format(java.util.Locale.ROOT, range, rest);
        return text.getBytes(ISO_8859_1);
    }

    @Test
    void signerOutsideTheClaimedTimeIsRefused() throws Exception {
        // The checker's own rule, past the signer's: the certificate ends before the claimed time.
        SigningKey brief = SigningKey.createSelfSigned(
                SignatureKind.EC_P256,
                "M. Okonjo-Vale",
                "Fernhollow Board Repair",
                Sample.NOW.minusSeconds(10),
                Duration.ofSeconds(5),
                new java.security.SecureRandom());
        byte[] signed = PdfSigner.sign(Sample.pdf(Map.of()), brief, Sample.NOW.minusSeconds(8), "x");
        assertThat(PdfSignatureCheck.check(signed)).isInstanceOf(Valid.class);
        String text = new String(signed, ISO_8859_1);
        byte[] moved = Resigned.with(
                text.replace("D:20261125115952Z", "D:20261125120000Z").getBytes(ISO_8859_1), brief);
        assertThat(PdfSignatureCheck.check(moved))
                .isEqualTo(new Broken("it claims to be of 2026-11-25T12:00:00Z, when its certificate was not valid"));
    }
}
