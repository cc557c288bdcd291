// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.Map;
import java.util.Random;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

final class PdfAttachmentsTest {
    private static final int MEGABYTE = 1_000_000;

    @Test
    void filesComeBackByteForByteBeforeAndAfterSigning() throws Exception {
        byte[] noise = new byte[MEGABYTE];
        new Random(7).nextBytes(noise);
        byte[] dull = new byte[MEGABYTE];
        Map<String, byte[]> files = new LinkedHashMap<>();
        files.put("run.jsonl", noise);
        files.put("verdict (v1) ü.json", dull);
        byte[] pdf = Sample.pdf(files);
        byte[] signed = PdfSigner.sign(pdf, Sample.RSA, Sample.NOW, "x");
        for (byte[] either : new byte[][] {pdf, signed}) {
            Map<String, byte[]> read = PdfAttachments.read(either, 2 * MEGABYTE);
            assertThat(read.keySet()).containsExactlyInAnyOrderElementsOf(files.keySet());
            assertThat(read.get("run.jsonl")).isEqualTo(noise);
            assertThat(read.get("verdict (v1) ü.json")).isEqualTo(dull);
        }
        assertThatThrownBy(() -> PdfAttachments.read(pdf, 2 * MEGABYTE - 1))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining("larger than the limit");
    }

    @Test
    void reportWithoutFilesHasNone() throws Exception {
        assertThat(PdfAttachments.read(Sample.pdf(Map.of()), 1)).isEmpty();
    }

    @Test
    @Timeout(120)
    void damageGivesAMessageNeverAnotherException() {
        byte[] pdf = Sample.pdf(Map.of("run.jsonl", "some words, some words".getBytes(ISO_8859_1)));
        long seed = 4;
        Random random = new Random(seed);
        int refused = 0;
        for (int i = 0; i < 20_000; i++) {
            byte[] changed = pdf.clone();
            for (int n = random.nextInt(3); n >= 0; n--) {
                changed[random.nextInt(pdf.length)] = (byte) random.nextInt(256);
            }
            try {
                PdfAttachments.read(changed, 1000);
            } catch (SigningException e) {
                refused++;
            }
        }
        // Most bytes of a page do not matter here: the signature is what guards them.
        assertThat(refused).as("seed %d", seed).isBetween(5000, 19_999);
        for (int length = 0; length < pdf.length - 1; length++) {
            byte[] cut = Arrays.copyOf(pdf, length);
            assertThatThrownBy(() -> PdfAttachments.read(cut, 1000)).isInstanceOf(SigningException.class);
        }
    }

    @Test
    void damagedFileIsNamed() {
        byte[] pdf = Sample.pdf(Map.of("run.jsonl", "some words, some words".getBytes(ISO_8859_1)));
        int stream = new String(pdf, ISO_8859_1).indexOf("stream\n") + "stream\n".length();
        pdf[stream + 8] ^= 1;
        assertThatThrownBy(() -> PdfAttachments.read(pdf, 1000))
                .isInstanceOf(SigningException.class)
                .hasMessageContaining("run.jsonl is damaged");
    }

    @Test
    @Timeout(20)
    void hostileTablesAreBounded() {
        for (String table : new String[] {
            "xref\n0 2147483647\n",
            "xref\n0 9999999999\n",
            "xref\n0 0\ntrailer\n<</Prev 9>>\n",
            "xref\n0 0\ntrailer\n<<>>\n"
        }) {
            String pdf = "%PDF-1.7\n" + table + "startxref\n9\n%%EOF\n";
            assertThatThrownBy(() -> PdfAttachments.read(pdf.getBytes(ISO_8859_1), 1000))
                    .isInstanceOf(SigningException.class)
                    .hasMessageStartingWith("The files inside the PDF cannot be read: ");
        }
    }
}
