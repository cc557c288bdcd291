// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import com.lowagie.text.pdf.PdfArray;
import com.lowagie.text.pdf.PdfDictionary;
import com.lowagie.text.pdf.PdfEncryption;
import com.lowagie.text.pdf.PdfFileSpecification;
import com.lowagie.text.pdf.PdfName;
import com.lowagie.text.pdf.PdfNumber;
import com.lowagie.text.pdf.PdfStream;
import com.lowagie.text.pdf.PdfString;
import com.lowagie.text.pdf.PdfWriter;
import dev.loadwitness.runlog.Shown;
import java.io.IOException;
import java.io.InputStream;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.time.Instant;
import java.time.ZoneOffset;
import java.time.format.DateTimeFormatter;
import java.time.temporal.ChronoUnit;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.function.Function;

/**
 * What keeps the file readable for decades and its bytes repeatable: fixed dates and file id, colour profile, metadata,
 * files inside. The metadata claim PDF/A-3b (ISO 19005-3); the tests hold the claim against a validator.
 */
public final class Archive {
    private static final byte[] SRGB = load("sRGB.icc");

    private final PdfWriter writer;
    private final String title;
    private final String identity;
    private final String language;
    private final Instant issuedAt;

    public Archive(PdfWriter writer, String title, String identity, String language, Instant issuedAt) {
        this.writer = writer;
        this.title = title;
        this.identity = identity;
        this.language = language;
        this.issuedAt = issuedAt.truncatedTo(ChronoUnit.SECONDS);
    }

    /** Before the document is opened. */
    public void before(byte[] identityDigest) {
        writer.setPdfVersion(PdfWriter.VERSION_1_7);
        writer.setXmpMetadata(xmp());
        PdfDictionary info = writer.getInfo();
        info.put(PdfName.TITLE, new PdfString(title, PdfString.TEXT_UNICODE));
        info.put(PdfName.SUBJECT, new PdfString(identity, PdfString.TEXT_UNICODE));
        info.put(PdfName.CREATOR, new PdfString("Loadwitness"));
        String date = DateTimeFormatter.ofPattern("'D:'uuuuMMddHHmmss'Z'", Locale.ROOT)
                .withZone(ZoneOffset.UTC)
                .format(issuedAt);
        info.put(PdfName.CREATIONDATE, new PdfString(date));
        info.put(PdfName.MODDATE, new PdfString(date));
        // The same report, issued at the same second, is the same file.
        byte[] id = Arrays.copyOf(identityDigest, 16);
        // Both halves given: left alone, the library makes the second one up.
        info.put(PdfName.FILEID, PdfEncryption.createInfoId(id, id));
    }

    /** After the document is opened: the catalog and the colour profile. */
    public void opened() {
        PdfDictionary catalog = writer.getExtraCatalog();
        catalog.put(PdfName.LANG, new PdfString(language));
        writer.addViewerPreference(PdfName.DISPLAYDOCTITLE, com.lowagie.text.pdf.PdfBoolean.PDFTRUE);
        try {
            PdfStream profile = new PdfStream(SRGB);
            profile.put(PdfName.N, new PdfNumber(3));
            profile.flateCompress();
            // By hand: the library's own way writes another standard's subtype and re-encodes the profile.
            PdfDictionary intent = new PdfDictionary(new PdfName("OutputIntent"));
            intent.put(PdfName.S, new PdfName("GTS_PDFA1"));
            intent.put(PdfName.OUTPUTCONDITIONIDENTIFIER, new PdfString("sRGB IEC61966-2.1"));
            intent.put(PdfName.INFO, new PdfString("sRGB IEC61966-2.1"));
            intent.put(PdfName.DESTOUTPUTPROFILE, writer.addToBody(profile).getIndirectReference());
            PdfArray intents = new PdfArray();
            intents.add(writer.addToBody(intent).getIndirectReference());
            catalog.put(PdfName.OUTPUTINTENTS, intents);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    public void embed(List<EmbeddedFile> files, Function<EmbeddedFile, String> description) {
        if (files.isEmpty()) {
            return;
        }
        PdfArray associated = new PdfArray();
        try {
            for (EmbeddedFile file : files) {
                PdfDictionary facts = new PdfDictionary();
                facts.put(PdfName.SIZE, new PdfNumber(file.bytes().length));
                facts.put(PdfName.MODDATE, writer.getInfo().get(PdfName.MODDATE));
                PdfFileSpecification inside = PdfFileSpecification.fileEmbedded(
                        writer,
                        null,
                        file.name(),
                        file.bytes(),
                        file.kind().mimeType,
                        facts,
                        PdfStream.BEST_COMPRESSION);
                inside.addDescription(description.apply(file), true);
                inside.put(new PdfName("AFRelationship"), new PdfName(file.kind().relationship));
                writer.addFileAttachment(file.name(), inside);
                associated.add(inside.getReference());
            }
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
        writer.getExtraCatalog().put(new PdfName("AF"), associated);
    }

    private byte[] xmp() {
        String date = issuedAt.toString();
        return ("<?xpacket begin=\"\uFEFF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
                        + "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
                        + "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
                        + "<rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\""
                        + " xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\""
                        + " xmlns:pdfaid=\"http://www.aiim.org/pdfa/ns/id/\">\n"
                        + "<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">" + escaped(title)
                        + "</rdf:li></rdf:Alt></dc:title>\n"
                        + "<dc:description><rdf:Alt><rdf:li xml:lang=\"x-default\">" + escaped(identity)
                        + "</rdf:li></rdf:Alt></dc:description>\n"
                        + "<pdfaid:part>3</pdfaid:part>\n"
                        + "<pdfaid:conformance>B</pdfaid:conformance>\n"
                        + "<xmp:CreatorTool>Loadwitness</xmp:CreatorTool>\n"
                        + "<xmp:CreateDate>" + date + "</xmp:CreateDate>\n"
                        + "<xmp:ModifyDate>" + date + "</xmp:ModifyDate>\n"
                        + "</rdf:Description>\n</rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"r\"?>")
                .getBytes(StandardCharsets.UTF_8);
    }

    private static String escaped(String text) {
        StringBuilder out = new StringBuilder();
        Shown.line(text).codePoints().forEach(c -> {
            switch (c) {
                case '&' -> out.append("&amp;");
                case '<' -> out.append("&lt;");
                case '>' -> out.append("&gt;");
                default -> out.appendCodePoint(c);
            }
        });
        return out.toString();
    }

    private static byte[] load(String name) {
        try (InputStream in = Archive.class.getResourceAsStream(name)) {
            if (in == null) {
                throw new IllegalStateException(name + " is not in the program's jar");
            }
            return in.readAllBytes();
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }
}
