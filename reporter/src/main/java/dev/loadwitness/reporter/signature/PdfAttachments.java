// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.nio.charset.StandardCharsets;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Set;
import java.util.zip.DataFormatException;
import java.util.zip.Inflater;

/** Takes the files out of a PDF that this program wrote. Refuses whatever it would not have written. */
public final class PdfAttachments {
    private static final int FILES_MOST = 250;
    private static final int BUFFER_BYTES = 1 << 14;
    private static final String UTF_16_MARK = "\u00FE\u00FF";

    private PdfAttachments() {}

    /**
     * The embedded files by name, in the document's order; empty when there are none.
     *
     * @param mostBytes what all files together may have, uncompressed
     * @throws SigningException if the PDF is of another shape, damaged, or its files are larger
     */
    public static Map<String, byte[]> read(byte[] pdf, long mostBytes) throws SigningException {
        try {
            return readTrusting(pdf, mostBytes);
        } catch (SigningException e) {
            throw new SigningException("The files inside the PDF cannot be read: " + e.getMessage() + ".", e);
        }
    }

    private static Map<String, byte[]> readTrusting(byte[] pdf, long mostBytes) throws SigningException {
        PdfFile file = new PdfFile(pdf);
        PdfValue.Dictionary catalog = file.catalog();
        Map<String, byte[]> files = new LinkedHashMap<>();
        if (!catalog.entries().containsKey("Names")) {
            return files;
        }
        PdfValue.Dictionary names = file.dictionary(catalog, "Names");
        if (!names.entries().containsKey("EmbeddedFiles")) {
            return files;
        }
        if (!(file.resolved(file.dictionary(names, "EmbeddedFiles"), "Names") instanceof PdfValue.Array pairs)) {
            throw new SigningException("its list of files is split, which this program never does");
        }
        List<PdfValue> values = pairs.values();
        if (values.size() % 2 != 0 || values.size() / 2 > FILES_MOST) {
            throw new SigningException("its list of files is not one of at most " + FILES_MOST + " pairs");
        }
        long left = mostBytes;
        for (int i = 1; i < values.size(); i += 2) {
            if (!(file.resolved(values.get(i)) instanceof PdfValue.Dictionary specification)) {
                throw new SigningException("an entry in its list of files is not a file");
            }
            String name = name(specification);
            byte[] content = content(file, specification, name, left);
            left -= content.length;
            if (files.put(name, content) != null) {
                throw new SigningException("it holds two files of the name " + name);
            }
        }
        return files;
    }

    private static String name(PdfValue.Dictionary specification) throws SigningException {
        if (!(specification.entries().get("UF") instanceof PdfValue.Text text)) {
            throw new SigningException("one of its files has no name");
        }
        String raw = text.latin1();
        String name = raw.startsWith(UTF_16_MARK)
                ? new String(raw.substring(2).getBytes(StandardCharsets.ISO_8859_1), StandardCharsets.UTF_16BE)
                : raw;
        // A name is only a label here; but it must never become a path somewhere else.
        if (name.isEmpty() || name.chars().anyMatch(c -> Character.isISOControl(c) || c == '/' || c == '\\')) {
            throw new SigningException("one of its files has a name that is empty or holds / \\ or control characters");
        }
        return name;
    }

    private static byte[] content(PdfFile file, PdfValue.Dictionary specification, String name, long mostBytes)
            throws SigningException {
        if (!(file.dictionary(specification, "EF").entries().get("F") instanceof PdfValue.Reference stream)) {
            throw new SigningException("the file " + name + " has no content");
        }
        Map<String, PdfValue> about = file.streamDictionary(stream).entries();
        if (!new PdfValue.Name("EmbeddedFile").equals(about.get("Type"))
                || !new PdfValue.Name("FlateDecode").equals(about.get("Filter"))
                || !Set.of("Type", "Subtype", "Filter", "Length", "Params").containsAll(about.keySet())) {
            throw new SigningException("the file " + name + " is stored in another way than this program does");
        }
        return inflate(file.streamBytes(stream), name, mostBytes);
    }

    /** Twice, so that no memory is taken before it is known how much the file needs. */
    private static byte[] inflate(byte[] compressed, String name, long mostBytes) throws SigningException {
        Inflater inflater = new Inflater();
        try {
            inflater.setInput(compressed);
            byte[] content = new byte[size(inflater, name, mostBytes)];
            inflater.reset();
            inflater.setInput(compressed);
            for (int filled = 0; filled < content.length; ) {
                filled += inflater.inflate(content, filled, content.length - filled);
            }
            return content;
        } catch (DataFormatException e) {
            throw new SigningException("the file " + name + " is damaged", e);
        } finally {
            inflater.end();
        }
    }

    private static int size(Inflater inflater, String name, long mostBytes)
            throws SigningException, DataFormatException {
        byte[] buffer = new byte[BUFFER_BYTES];
        int size = 0;
        while (!inflater.finished()) {
            int count = inflater.inflate(buffer);
            if (count == 0 && !inflater.finished()) {
                throw new SigningException("the file " + name + " ends too early");
            }
            if (count > mostBytes - size) {
                throw new SigningException("the file " + name + " is larger than the limit for all files together");
            }
            size += count;
        }
        if (inflater.getRemaining() != 0) {
            throw new SigningException("something follows the file " + name);
        }
        return size;
    }
}
