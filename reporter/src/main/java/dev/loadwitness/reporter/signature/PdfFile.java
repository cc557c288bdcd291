// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import static java.util.Objects.requireNonNull;

import java.nio.charset.StandardCharsets;
import java.util.Arrays;
import java.util.HashMap;
import java.util.HashSet;
import java.util.Map;
import java.util.Set;
import org.jspecify.annotations.Nullable;

/** Finds the objects of a PDF by its tables of contents (plain ones; the compressed kind is not written here). */
final class PdfFile {
    /** A report has one part, a signed one two. */
    private static final int PARTS_MOST = 4;

    private static final int OBJECTS_MOST = 200_000;
    private static final int ENTRY_BYTES = 20;
    private static final int OBJECT_BYTES_MOST = 1 << 16;
    private static final int END_BYTES = 64;

    private final byte[] bytes;
    private final Map<Integer, Integer> offsets = new HashMap<>();
    private final Set<Integer> seen = new HashSet<>();
    private PdfValue.@Nullable Dictionary newestTrailer;

    PdfFile(byte[] bytes) throws SigningException {
        this.bytes = bytes;
        int table = lastTable();
        for (int part = 0; table >= 0; part++) {
            if (part == PARTS_MOST) {
                throw new SigningException("the PDF was extended more than " + (PARTS_MOST - 1) + " times");
            }
            int previous = readTable(table);
            if (previous >= table) {
                throw new SigningException("the PDF's tables of contents do not follow one another");
            }
            table = previous;
        }
    }

    private int lastTable() throws SigningException {
        int from = Math.max(0, bytes.length - END_BYTES);
        String end = new String(bytes, from, bytes.length - from, StandardCharsets.ISO_8859_1);
        int start = end.lastIndexOf("startxref");
        if (start < 0 || !end.stripTrailing().endsWith("%%EOF")) {
            throw new SigningException("the PDF has no proper end; it may have been cut or extended");
        }
        PdfParser parser = new PdfParser(bytes, from + start, END_BYTES);
        parser.expect("startxref");
        return parser.number();
    }

    /** Takes in one table and gives the place of the one before it, or -1. Newer tables come first and win. */
    private int readTable(int at) throws SigningException {
        PdfParser parser = new PdfParser(bytes, at, bytes.length);
        parser.expect("xref");
        while (!parser.take("trailer")) {
            int first = parser.number();
            int count = parser.number();
            if (first > OBJECTS_MOST || count > OBJECTS_MOST - first) {
                throw new SigningException("the PDF claims more than " + OBJECTS_MOST + " objects");
            }
            for (int i = 0; i < count; i++) {
                int offset = parser.number();
                parser.number();
                boolean used = parser.take("n");
                if (!used) {
                    parser.expect("f");
                }
                if (seen.add(first + i) && used) {
                    offsets.put(first + i, offset);
                }
            }
        }
        PdfValue.Dictionary trailer = new PdfParser(bytes, parser.position(), OBJECT_BYTES_MOST).dictionary();
        if (newestTrailer == null) {
            newestTrailer = trailer;
        }
        PdfValue previous = trailer.entries().get("Prev");
        if (previous == null) {
            return -1;
        }
        if (previous instanceof PdfValue.Whole whole && whole.value() <= bytes.length) {
            return (int) whole.value();
        }
        throw new SigningException("the PDF's tables of contents do not follow one another");
    }

    PdfValue.Dictionary catalog() throws SigningException {
        return dictionary(requireNonNull(newestTrailer, "the constructor reads one table or more"), "Root");
    }

    /** The dictionary under this key, whether it stands there or elsewhere. */
    PdfValue.Dictionary dictionary(PdfValue.Dictionary owner, String key) throws SigningException {
        if (resolved(owner, key) instanceof PdfValue.Dictionary dictionary) {
            return dictionary;
        }
        throw new SigningException("the PDF has no usable /" + key + " where one must be");
    }

    /** The value under this key, or null; followed once if it stands elsewhere. */
    @Nullable
    PdfValue resolved(PdfValue.Dictionary owner, String key) throws SigningException {
        return resolved(owner.entries().get(key));
    }

    @Nullable
    PdfValue resolved(@Nullable PdfValue value) throws SigningException {
        return value instanceof PdfValue.Reference reference ? open(reference).value() : value;
    }

    private PdfParser open(PdfValue.Reference reference) throws SigningException {
        Integer offset = offsets.get(reference.number());
        if (offset == null) {
            throw new SigningException("the PDF lacks its object " + reference.number());
        }
        PdfParser parser = new PdfParser(bytes, offset, OBJECT_BYTES_MOST);
        if (parser.number() != reference.number()) {
            throw new SigningException("the PDF's table of contents is wrong about object " + reference.number());
        }
        parser.expect("0");
        parser.expect("obj");
        return parser;
    }

    /** The stream's dictionary. */
    PdfValue.Dictionary streamDictionary(PdfValue.Reference reference) throws SigningException {
        return open(reference).dictionary();
    }

    /** The stream's bytes as they lie in the file. */
    byte[] streamBytes(PdfValue.Reference reference) throws SigningException {
        PdfParser parser = open(reference);
        PdfValue.Dictionary dictionary = parser.dictionary();
        parser.expect("stream");
        int start = parser.position();
        if (start < bytes.length && bytes[start] == '\r') {
            start++;
        }
        if (start >= bytes.length || bytes[start] != '\n') {
            throw new SigningException("the PDF's stream " + reference.number() + " does not begin properly");
        }
        start++;
        if (!(resolved(dictionary, "Length") instanceof PdfValue.Whole length)
                || length.value() > bytes.length - start) {
            throw new SigningException("the PDF's stream " + reference.number() + " has no proper length");
        }
        int end = start + (int) length.value();
        new PdfParser(bytes, end, ENTRY_BYTES).expect("endstream");
        return Arrays.copyOfRange(bytes, start, end);
    }
}
