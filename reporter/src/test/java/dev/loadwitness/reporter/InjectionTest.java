// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.node.ArrayNode;
import com.fasterxml.jackson.databind.node.ObjectNode;
import com.fasterxml.jackson.databind.node.TextNode;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.security.MessageDigest;
import java.util.ArrayList;
import java.util.HexFormat;
import java.util.List;
import java.util.Set;
import java.util.TreeSet;
import java.util.function.BiFunction;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import java.util.stream.Stream;
import javax.xml.parsers.DocumentBuilderFactory;
import org.apache.pdfbox.Loader;
import org.apache.pdfbox.contentstream.operator.Operator;
import org.apache.pdfbox.cos.COSArray;
import org.apache.pdfbox.cos.COSBase;
import org.apache.pdfbox.cos.COSDictionary;
import org.apache.pdfbox.cos.COSName;
import org.apache.pdfbox.cos.COSObject;
import org.apache.pdfbox.pdfparser.PDFStreamParser;
import org.apache.pdfbox.pdmodel.PDDocument;
import org.apache.pdfbox.pdmodel.PDPage;
import org.apache.pdfbox.text.PDFTextStripper;
import org.junit.jupiter.api.Tag;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.MethodSource;
import org.w3c.dom.Document;
import org.w3c.dom.NodeList;

/**
 * A log comes from the customer's machine and a sheet from anywhere. Whatever stands in their texts is printed as text: no
 * object, no name, no operator and no element of the metadata comes from there.
 */
@Tag("keys")
@Timeout(value = 300, threadMode = Timeout.ThreadMode.SEPARATE_THREAD)
final class InjectionTest {
    private static final ObjectMapper JSON = new ObjectMapper();
    private static final Path SAMPLE = Path.of("..", "sample-runs", "orderly-restart", "run.jsonl");
    private static final int CHAIN_CHARACTERS = 64;

    @TempDir
    private Path folder;

    private record Payload(String name, String text) {
        @Override
        public String toString() {
            return name;
        }
    }

    static Stream<Payload> payloads() {
        return Stream.of(
                new Payload(
                        "objects",
                        ") Tj ET Q endstream endobj 99999 0 obj <</Type/Catalog/OpenAction<</S/JavaScript"
                                + "/JS(app.alert\\(1\\))>>>> endobj trailer <</Root 99999 0 R>> startxref 0 %%EOF ("),
                new Payload("brackets and backslashes", "((( \\ \\) \\\\ \\( \\050 > >> ]] } <feff0041> \\"),
                new Payload(
                        "a signature's traces", "/ByteRange [0 1 2 3] /SigFlags 3 ETSI.CAdES.detached /DocMDP /FT/Sig"),
                new Payload("markup", "</rdf:li></dc:title><x:evil a=\"b\"/>]]>&amp;&#0;<?xpacket end=\"w\"?><!--"),
                new Payload("line ends", "one\nendstream\r\nendobj\n%%EOF\u2028two\u0085three"),
                new Payload("turned and hidden", "\u202Egnp.exe\u2066\u200B\uFEFF\u0000\u0007\u001B[31m\uD83D\uDE00"));
    }

    @ParameterizedTest
    @MethodSource("payloads")
    void whatStandsInTextsStaysText(Payload payload) throws Exception {
        Path plain = certify(SAMPLE, "plain", "--replaces", "20261124-0123ABCD", "--reason", "plain words");
        Path byLog = certify(log(payload.text, SAMPLE), "by-log", "--replaces", payload.text, "--reason", payload.text);
        assertSameKindOfFile(byLog, plain);
        assertThat(Said.by("verify", byLog).text()).contains("byte for byte what this program prints");

        assertSameKindOfFile(
                certify(SAMPLE, "by-sheet", "--job", sheet(payload.text)),
                certify(SAMPLE, "plain-sheet", "--job", sheet("plain words")));
    }

    @Test
    void tenThousandCharactersEverywhereStayTextToo() throws Exception {
        String words = "W".repeat(10_000);
        assertSameKindOfFile(
                certify(log(words, SAMPLE), "hostile", "--replaces", words, "--reason", words),
                certify(SAMPLE, "plain", "--replaces", "20261124-0123ABCD", "--reason", "plain words"));
    }

    /** What looks like a signature in a ticket is no reason to refuse one. */
    @Test
    void aTicketThatNamesTheWordsOfASignatureCanBeSignedAndVerified() throws Exception {
        Path passphrase = Files.writeString(folder.resolve("passphrase"), "correct horse battery staple\n");
        Files.setPosixFilePermissions(passphrase, PosixFilePermissions.fromString("rw-------"));
        Path key = folder.resolve("key.p12");
        Said.by("signing-key", "--name", "Fern) /ByteRange (hollow", "--out", key, "--passphrase-file", passphrase);
        Path log = log(
                "/ByteRange [0 1 2 3] ETSI.CAdES.detached %%EOF",
                Path.of("..", "sample-runs", "real-quick-check", "run.jsonl"));
        Path pdf = folder.resolve("signed.pdf");
        Said said = Said.by("certify", log, "--out", pdf, "--key", key, "--passphrase-file", passphrase);

        assertThat(said.status()).as(said.text()).isLessThan(64);
        assertThat(Said.by("verify", pdf).status()).isZero();
    }

    private Path certify(Path log, String name, Object... more) {
        Path out = folder.resolve(name + ".pdf");
        List<Object> words = new ArrayList<>(List.of("certify", log, "--out", out, "--unsigned"));
        words.addAll(List.of(more));
        Said said = Said.by(words.toArray());
        assertThat(said.status()).as(said.text()).isLessThan(64);
        return out;
    }

    private static void assertSameKindOfFile(Path hostile, Path plain) throws Exception {
        String raw = Files.readString(hostile, ISO_8859_1);
        try (PDDocument one = Loader.loadPDF(hostile.toFile());
                PDDocument other = Loader.loadPDF(plain.toFile())) {
            assertThat(names(one)).isSubsetOf(names(other));
            assertThat(operators(one)).isSubsetOf(operators(other));
            assertThat(one.getDocument().getTrailer().keySet())
                    .isEqualTo(other.getDocument().getTrailer().keySet());
            assertThat(elements(one)).isEqualTo(elements(other));
            assertThat(new PDFTextStripper().getText(one)).contains("What was tested");
            // Also for those who look for such words instead of reading.
            assertThat(count(raw, "%%EOF")).isEqualTo(1);
            assertThat(count(raw, "startxref")).isEqualTo(1);
            assertThat(count(raw, "endobj"))
                    .isEqualTo(one.getDocument().getXrefTable().size());
            assertThat(count(raw, "endstream")).isEqualTo(count(raw, "stream\n") - count(raw, "endstream\n"));
            for (String word : List.of("/ByteRange", "/JavaScript", "/OpenAction", "/SigFlags", "ETSI.CAdES")) {
                assertThat(count(raw, word)).as(word).isZero();
            }
        }
    }

    private static int count(String raw, String word) {
        return (int) Pattern.compile(Pattern.quote(word)).matcher(raw).results().count();
    }

    /** Every name in every dictionary, as key or value. */
    private static Set<String> names(PDDocument document) throws IOException {
        Set<String> names = new TreeSet<>();
        for (var key : document.getDocument().getXrefTable().keySet()) {
            collect(document.getDocument().getObjectFromPool(key).getObject(), names);
        }
        // Subsets of fonts are numbered by the characters in them.
        names.removeIf(name -> name.matches("[A-Z]{6}\\+.*|[A-Z][A-Za-z]*[0-9]+"));
        return names;
    }

    private static void collect(COSBase value, Set<String> names) {
        if (value instanceof COSName name) {
            names.add(name.getName());
        } else if (value instanceof COSArray array) {
            array.forEach(entry -> collect(entry, names));
        } else if (value instanceof COSDictionary dictionary) {
            dictionary.entrySet().forEach(entry -> {
                names.add(entry.getKey().getName());
                if (!(entry.getValue() instanceof COSObject)) {
                    collect(entry.getValue(), names);
                }
            });
        }
    }

    private static Set<String> operators(PDDocument document) throws IOException {
        Set<String> operators = new TreeSet<>();
        for (PDPage page : document.getPages()) {
            for (Object token : new PDFStreamParser(page).parse()) {
                if (token instanceof Operator operator) {
                    operators.add(operator.getName());
                }
            }
        }
        return operators;
    }

    /** Names of the elements of the metadata, in their order. */
    private static List<String> elements(PDDocument document) throws Exception {
        byte[] xml = document.getDocumentCatalog().getMetadata().toByteArray();
        Document parsed =
                DocumentBuilderFactory.newInstance().newDocumentBuilder().parse(new ByteArrayInputStream(xml));
        NodeList all = parsed.getElementsByTagName("*");
        List<String> names = new ArrayList<>();
        for (int i = 0; i < all.getLength(); i++) {
            names.add(all.item(i).getNodeName());
        }
        return names;
    }

    /** The example for the sample's ticket, with this in every other text that the reader takes it in. */
    private Path sheet(String hostile) throws Exception {
        String[] lines = Files.readString(Path.of("..", "docs", "examples", "job-sheet.yaml"))
                .split("\n", -1);
        String quoted = JSON.writeValueAsString("x " + hostile);
        int taken = 0;
        for (int i = 0; i < lines.length; i++) {
            String before = lines[i];
            lines[i] = before.replaceFirst(
                    "^( *(?:- )?(?!ticket)[a-z-]+:) [^#{\\[|>].*", "$1 " + Matcher.quoteReplacement(quoted));
            try {
                JobSheetReader.read("sheet.yaml", String.join("\n", lines));
                taken += lines[i].equals(before) ? 0 : 1;
            } catch (JobSheetException e) {
                lines[i] = before;
            }
        }
        // Control characters and what turns others round are refused on reading.
        assertThat(taken).isGreaterThanOrEqualTo(hostile.matches("(?s).*[\\p{Cc}\\p{Cf}].*") ? 0 : 5);
        return Files.writeString(folder.resolve("sheet.yaml"), String.join("\n", lines));
    }

    /** The log with this in every text that the reader takes it in. */
    private Path log(String hostile, Path sample) throws Exception {
        List<ObjectNode> records = new ArrayList<>();
        for (String line : Files.readAllLines(sample, UTF_8)) {
            if (line.endsWith("\"}")) { // else it is a torn tail, which a boot record declares
                records.add((ObjectNode) ((ObjectNode) JSON.readTree(line)).without("torn"));
            }
        }
        TreeSet<String> places = new TreeSet<>();
        changed(records, (place, text) -> {
            places.add(place);
            return text;
        });
        int taken = 0;
        Path log = folder.resolve("run.jsonl");
        for (String place : places) {
            List<ObjectNode> tried = changed(records, (p, text) -> p.equals(place) ? text + hostile : text);
            write(log, tried);
            if (isJudged(log)) {
                records = tried;
                taken++;
            }
        }
        assertThat(taken).as("texts that the reader takes").isGreaterThan(5);
        return write(log, records);
    }

    private static boolean isJudged(Path log) {
        try {
            return !Judge.judge(Judge.Request.of(log)).damaged();
        } catch (IOException e) {
            return false;
        }
    }

    private static List<ObjectNode> changed(List<ObjectNode> records, BiFunction<String, String, String> change) {
        List<ObjectNode> changed = new ArrayList<>();
        for (ObjectNode line : records) {
            ObjectNode copy = line.deepCopy();
            if (!copy.path("type").asText().equals("sample")) {
                change(copy.path("type").asText(), copy, change);
            }
            changed.add(copy);
        }
        return changed;
    }

    private static void change(String place, JsonNode node, BiFunction<String, String, String> change) {
        if (node instanceof ObjectNode object) {
            List<String> keys = new ArrayList<>();
            object.fieldNames().forEachRemaining(keys::add);
            for (String key : keys) {
                if (object.get(key).isTextual()) {
                    object.put(
                            key, change.apply(place + "/" + key, object.get(key).textValue()));
                } else {
                    change(place + "/" + key, object.get(key), change);
                }
            }
        } else if (node instanceof ArrayNode array) {
            for (int i = 0; i < array.size(); i++) {
                if (array.get(i).isTextual()) {
                    array.set(
                            i, TextNode.valueOf(change.apply(place, array.get(i).textValue())));
                } else {
                    change(place, array.get(i), change);
                }
            }
        }
    }

    private static Path write(Path log, List<ObjectNode> records) throws Exception {
        StringBuilder out = new StringBuilder();
        String chain = "0".repeat(CHAIN_CHARACTERS);
        for (ObjectNode line : records) {
            ObjectNode copy = line.deepCopy();
            copy.remove("chain");
            String body = JSON.writeValueAsString(copy);
            body = body.substring(0, body.length() - 1);
            chain = HexFormat.of()
                    .formatHex(MessageDigest.getInstance("SHA-256").digest((chain + body).getBytes(UTF_8)));
            out.append(body).append(",\"chain\":\"").append(chain).append("\"}\n");
        }
        return Files.writeString(log, out);
    }
}
