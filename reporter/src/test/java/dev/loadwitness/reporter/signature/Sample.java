// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import com.lowagie.text.Document;
import com.lowagie.text.Paragraph;
import com.lowagie.text.pdf.PdfArray;
import com.lowagie.text.pdf.PdfDictionary;
import com.lowagie.text.pdf.PdfFileSpecification;
import com.lowagie.text.pdf.PdfName;
import com.lowagie.text.pdf.PdfNumber;
import com.lowagie.text.pdf.PdfStream;
import com.lowagie.text.pdf.PdfWriter;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.security.SecureRandom;
import java.time.Duration;
import java.time.Instant;
import java.util.Map;

/** Small PDFs made the way the report's layout makes them, and keys made once: RSA-3072 takes a second. */
final class Sample {
    static final Instant NOW = Instant.parse("2026-11-25T12:00:00Z");
    static final Duration YEAR = Duration.ofDays(365);
    static final SigningKey RSA = key(SignatureKind.RSA);
    static final SigningKey EC_P256 = key(SignatureKind.EC_P256);

    private Sample() {}

    static SigningKey key(SignatureKind kind) {
        try {
            return SigningKey.createSelfSigned(
                    kind,
                    "M. Okonjo-Vale",
                    "Fernhollow Board Repair",
                    NOW.minus(Duration.ofDays(1)),
                    YEAR,
                    new SecureRandom());
        } catch (SigningException e) {
            throw new IllegalStateException(e);
        }
    }

    static byte[] pdf(Map<String, byte[]> files) {
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        Document document = new Document();
        PdfWriter writer = PdfWriter.getInstance(document, out);
        document.open();
        document.add(new Paragraph("Burn-in report FBR-2026-0142"));
        PdfArray associated = new PdfArray();
        try {
            for (Map.Entry<String, byte[]> file : files.entrySet()) {
                PdfDictionary facts = new PdfDictionary();
                facts.put(PdfName.SIZE, new PdfNumber(file.getValue().length));
                PdfFileSpecification inside = PdfFileSpecification.fileEmbedded(
                        writer,
                        null,
                        file.getKey(),
                        file.getValue(),
                        "application/jsonl",
                        facts,
                        PdfStream.BEST_COMPRESSION);
                inside.addDescription("About (" + file.getKey() + ")", true);
                inside.put(new PdfName("AFRelationship"), new PdfName("Source"));
                writer.addFileAttachment("About " + file.getKey(), inside);
                associated.add(inside.getReference());
            }
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
        writer.getExtraCatalog().put(new PdfName("AF"), associated);
        document.close();
        return out.toByteArray();
    }

    static byte[] signed(SigningKey key) throws SigningException {
        return PdfSigner.sign(pdf(Map.of("run.jsonl", new byte[] {'{', '}', '\n'})), key, NOW, "Burn-in report");
    }
}
