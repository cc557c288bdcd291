// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static org.assertj.core.api.Assertions.assertThat;

import com.lowagie.text.pdf.PdfReader;
import dev.loadwitness.reporter.signature.PdfSignatureCheck.Broken;
import dev.loadwitness.reporter.signature.PdfSignatureCheck.Valid;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.function.UnaryOperator;
import java.util.stream.Stream;
import org.apache.pdfbox.Loader;
import org.apache.pdfbox.cos.COSName;
import org.apache.pdfbox.pdmodel.PDDocument;
import org.apache.pdfbox.pdmodel.interactive.digitalsignature.ExternalSigningSupport;
import org.apache.pdfbox.pdmodel.interactive.digitalsignature.PDSignature;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.MethodSource;

/** The holder of a key can sign anything: what is not a printed report and its signature, and nothing else, must be found. */
final class OnlySignedTest {
    private static final byte[] PRINTED = Sample.pdf(Map.of("run.jsonl", new byte[] {'{', '}', '\n'}));
    private static final String REASON = "Burn-in report 1";
    private static final SigningKey KEY = Sample.EC_P256;

    @TempDir
    private Path folder;

    @Test
    void printedReportThatWasSignedIsNothingElse() throws Exception {
        for (SigningKey key : List.of(Sample.RSA, Sample.EC_P256)) {
            byte[] signed = PdfSigner.sign(PRINTED, key, Sample.NOW, REASON);
            assertThat(PdfSignatureCheck.isOnlySigned(signed, PRINTED, Sample.NOW, REASON))
                    .isTrue();
            assertThat(PdfSignatureCheck.isOnlySigned(signed, PRINTED, Sample.NOW, "Burn-in report 2"))
                    .isFalse();
            assertThat(PdfSignatureCheck.isOnlySigned(signed, PRINTED, Sample.NOW.plusSeconds(1), REASON))
                    .isFalse();
        }
    }

    /** What a name does to the printed report before it is signed. */
    private record Attack(String name, UnaryOperator<byte[]> slipIn) {
        @Override
        public String toString() {
            return name;
        }
    }

    static Stream<Attack> attacksBetweenReportAndSignature() {
        int free = Update.size(PRINTED);
        String script = "/OpenAction<</S/JavaScript/JS(app.alert\\(1\\))>>";
        String note = "<</Type/Annot/Subtype/FreeText/Rect[60 600 460 720]/Contents(PASS)/DA(/F1 30 Tf)>>";
        String field = "<</Type/Annot/Subtype/Widget/FT/Tx/T(verdict)/V(PASS)/Rect[60 600 460 720]>>";
        return Stream.of(
                new Attack("other content of page 1", Update::greenBox),
                new Attack("script on opening", pdf -> Update.catalog(pdf, inFront(script))),
                new Attack("annotation", pdf -> Update.pageOne(pdf, inFront("/Annots[" + note + "]"))),
                new Attack("form field", pdf -> Update.pageOne(pdf, inFront("/Annots[" + field + "]"))),
                new Attack("catalog without files", pdf -> Update.catalog(pdf, c -> c.replace("/Names", "/Nomes"))),
                new Attack(
                        "other metadata",
                        pdf -> Update.replacing(pdf, Map.of(free, "<</Title(PASS)>>"), "/Info " + free + " 0 R")),
                new Attack(
                        "object that nothing refers to",
                        pdf -> Update.replacing(pdf, Map.of(free, Update.stream("", "0 1 0 rg")), "")),
                new Attack("object that says it is free", OnlySignedTest::freeObject),
                new Attack("second table of contents beside the first", OnlySignedTest::hybrid),
                new Attack("revision without an object", pdf -> Update.replacing(pdf, Map.of(), "")),
                new Attack("comment behind the end", pdf -> join(pdf, "% nothing\n")),
                new Attack("one line feed behind the end", pdf -> join(pdf, "\n")));
    }

    private static UnaryOperator<String> inFront(String entry) {
        return dictionary -> "<<" + entry + dictionary.substring(2);
    }

    private static byte[] join(byte[] pdf, String more) {
        return (new String(pdf, ISO_8859_1) + more).getBytes(ISO_8859_1);
    }

    /** Hidden until a later revision points to it. */
    private static byte[] freeObject(byte[] pdf) {
        int free = Update.size(pdf);
        String text = new String(Update.replacing(pdf, Map.of(free, Update.stream("", "0 1 0 rg")), ""), ISO_8859_1);
        int table = text.lastIndexOf("\nxref\n");
        return (text.substring(0, table) + text.substring(table).replace(" 00000 n ", " 00001 f "))
                .getBytes(ISO_8859_1);
    }

    /** Readers that know streams of references follow /XRefStm, others do not: the two see different files. */
    private static byte[] hybrid(byte[] pdf) {
        int number = Update.size(pdf);
        int at = pdf.length + (pdf[pdf.length - 1] == '\n' ? 0 : 1);
        String entry = String.format(Locale.ROOT, "01%08x0000", at);
        String stream = Update.stream(
                "/Type/XRef/W[1 4 2]/Size " + (number + 1) + "/Index[" + number + " 1]/Filter/ASCIIHexDecode",
                entry + ">");
        return Update.replacing(pdf, Map.of(number, stream), "/XRefStm " + at);
    }

    @ParameterizedTest
    @MethodSource("attacksBetweenReportAndSignature")
    void whatIsSlippedInBetweenReportAndSignatureIsFound(Attack attack) throws Exception {
        byte[] signed = PdfSigner.sign(attack.slipIn.apply(PRINTED), KEY, Sample.NOW, REASON);

        // A signature over it can be made, and is a good one; and a reader opens the file.
        assertThat(PdfSignatureCheck.check(signed)).isInstanceOf(Valid.class);
        new PdfReader(signed).close();
        assertThat(PdfSignatureCheck.isOnlySigned(signed, PRINTED, Sample.NOW, REASON))
                .isFalse();
    }

    /** In the revision that holds the signature: it rewrites the catalog and its table says where everything lies. */
    @Test
    void noByteOfTheSignaturesOwnRevisionCanBeAnother() throws Exception {
        byte[] signed = PdfSigner.sign(PRINTED, KEY, Sample.NOW, REASON);
        String text = new String(signed, ISO_8859_1);
        int from = text.indexOf("/Contents <3");
        int until = text.indexOf('>', from);
        int tried = 0;
        for (int at = 0; at < signed.length; at += at < PRINTED.length ? 97 : 5) {
            if (at >= from && at <= until) {
                continue;
            }
            byte[] changed = signed.clone();
            changed[at] ^= 1;
            tried++;
            assertThat(PdfSignatureCheck.isOnlySigned(changed, PRINTED, Sample.NOW, REASON))
                    .as("byte %d", at)
                    .isFalse();
        }
        assertThat(tried).isGreaterThan(300);
        byte[] catalog = Resigned.with(text.replace("/Perms<<", "/Permx<<").getBytes(ISO_8859_1), KEY);
        assertThat(PdfSignatureCheck.check(catalog)).isInstanceOf(Valid.class);
        assertThat(PdfSignatureCheck.isOnlySigned(catalog, PRINTED, Sample.NOW, REASON))
                .isFalse();
    }

    @Test
    void whatComesAfterTheSignatureBreaksIt() throws Exception {
        byte[] signed = PdfSigner.sign(PRINTED, KEY, Sample.NOW, REASON);
        for (byte[] after : List.of(Update.greenBox(signed), join(signed, "\n"), join(signed, "%%EOF\n"))) {
            assertThat(PdfSignatureCheck.check(after)).isInstanceOf(Broken.class);
        }
        assertThat(PdfSignatureCheck.check(("x" + new String(signed, ISO_8859_1)).getBytes(ISO_8859_1)))
                .isInstanceOf(Broken.class);
    }

    /** Also where nothing visible was changed: what a second one covers cannot be told from what it may have added. */
    @Test
    void aSecondSignatureOfWhateverKindIsNotOurs() throws Exception {
        byte[] once = PdfSigner.sign(PRINTED, KEY, Sample.NOW, REASON);
        for (String filter : List.of("adbe.pkcs7.detached", "ETSI.CAdES.detached")) {
            assertThat(PdfSignatureCheck.check(signedByAnotherTool(once, filter)))
                    .isEqualTo(new Broken("there is more than one signature; this program makes exactly one"));
            assertThat(PdfSignatureCheck.check(signedByAnotherTool(Update.greenBox(once), filter)))
                    .isEqualTo(new Broken("there is more than one signature; this program makes exactly one"));
        }
    }

    @Test
    void theOnlySignatureOfAnotherToolIsNotOurs() throws Exception {
        for (String filter : List.of("adbe.pkcs7.detached", "ETSI.CAdES.detached")) {
            assertThat(PdfSignatureCheck.check(signedByAnotherTool(PRINTED, filter)))
                    .isInstanceOf(Broken.class);
        }
    }

    /** A PDF library with openssl's CMS, as any other program signs. */
    private byte[] signedByAnotherTool(byte[] pdf, String filter) throws Exception {
        Path certificate = folder.resolve("other.pem");
        Path key = folder.resolve("other.key");
        if (!Files.exists(key)) {
            openssl(
                    "req",
                    "-x509",
                    "-newkey",
                    "rsa:2048",
                    "-nodes",
                    "-subj",
                    "/CN=Another tool",
                    "-days",
                    "30",
                    "-keyout",
                    key.toString(),
                    "-out",
                    certificate.toString());
        }
        Path out = folder.resolve("other.pdf");
        try (PDDocument document = Loader.loadPDF(pdf);
                java.io.OutputStream to = Files.newOutputStream(out)) {
            PDSignature signature = new PDSignature();
            signature.setFilter(COSName.getPDFName("Adobe.PPKLite"));
            signature.setSubFilter(COSName.getPDFName(filter));
            document.addSignature(signature);
            ExternalSigningSupport external = document.saveIncrementalForExternalSigning(to);
            Path content = folder.resolve("content");
            try (java.io.InputStream covered = external.getContent()) {
                Files.write(content, covered.readAllBytes());
            }
            Path cms = folder.resolve("cms");
            openssl(
                    "cms",
                    "-sign",
                    "-cades",
                    "-binary",
                    "-in",
                    content.toString(),
                    "-signer",
                    certificate.toString(),
                    "-inkey",
                    key.toString(),
                    "-outform",
                    "DER",
                    "-out",
                    cms.toString());
            external.setSignature(Files.readAllBytes(cms));
        }
        return Files.readAllBytes(out);
    }

    private static void openssl(String... arguments) throws Exception {
        List<String> command = new ArrayList<>(List.of("openssl"));
        command.addAll(List.of(arguments));
        Process process = new ProcessBuilder(command).redirectErrorStream(true).start();
        String said = new String(process.getInputStream().readAllBytes(), ISO_8859_1);
        assertThat(process.waitFor()).as(said).isZero();
    }
}
