// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import static java.nio.charset.StandardCharsets.ISO_8859_1;

import com.lowagie.text.pdf.PRIndirectReference;
import com.lowagie.text.pdf.PdfName;
import com.lowagie.text.pdf.PdfReader;
import java.io.IOException;
import java.util.Locale;
import java.util.Map;
import java.util.TreeMap;
import java.util.function.UnaryOperator;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/** Appends a revision to a PDF as an attacker's editor does: objects that replace others of the same number, and a table. */
public final class Update {
    private static final String GREEN_BOX = "0 0.7 0 rg 60 600 400 120 re f";

    private Update() {}

    /** A green box in place of all that the first page shows. */
    public static byte[] greenBox(byte[] pdf) {
        return replacing(pdf, Map.of(contentOfPageOne(pdf), stream("", GREEN_BOX)), "");
    }

    /** A stream object's inside. */
    public static String stream(String entries, String bytes) {
        return "<<" + entries + "/Length " + bytes.length() + ">>\nstream\n" + bytes + "\nendstream";
    }

    /** The catalog, changed; it must be written in one line without dictionaries in it. */
    static byte[] catalog(byte[] pdf, UnaryOperator<String> change) {
        int number = reference(pdf, "Root");
        return replacing(pdf, Map.of(number, change.apply(object(pdf, number))), "");
    }

    static byte[] pageOne(byte[] pdf, UnaryOperator<String> change) {
        int number = pageOneNumber(pdf);
        return replacing(pdf, Map.of(number, change.apply(object(pdf, number))), "");
    }

    /** The numbers and insides of objects, and what else stands in the trailer. */
    static byte[] replacing(byte[] pdf, Map<Integer, String> objects, String trailer) {
        StringBuilder out = new StringBuilder(new String(pdf, ISO_8859_1));
        if (out.charAt(out.length() - 1) != '\n') {
            out.append('\n');
        }
        StringBuilder table = new StringBuilder("xref\n");
        for (Map.Entry<Integer, String> object : new TreeMap<>(objects).entrySet()) {
            table.append(object.getKey()).append(" 1\n");
            table.append(String.format(Locale.ROOT, "%010d 00000 n \n", out.length()));
            out.append(object.getKey())
                    .append(" 0 obj\n")
                    .append(object.getValue())
                    .append("\nendobj\n");
        }
        int start = out.length();
        int size = Math.max(
                size(pdf), objects.keySet().stream().mapToInt(n -> n + 1).max().orElse(0));
        out.append(table)
                .append("trailer\n<</Size ")
                .append(size)
                .append("/Root ")
                .append(reference(pdf, "Root"))
                .append(" 0 R/Prev ")
                .append(last(pdf, "startxref\\s+([0-9]+)"))
                .append(trailer)
                .append(">>\nstartxref\n")
                .append(start)
                .append("\n%%EOF\n");
        return out.toString().getBytes(ISO_8859_1);
    }

    static int size(byte[] pdf) {
        return last(pdf, "/Size ([0-9]+)");
    }

    static int reference(byte[] pdf, String key) {
        return last(pdf, "/" + key + " ([0-9]+) 0 R");
    }

    private static String object(byte[] pdf, int number) {
        String text = new String(pdf, ISO_8859_1);
        int from = text.lastIndexOf("\n" + number + " 0 obj") + ("\n" + number + " 0 obj").length();
        return text.substring(from, text.indexOf("endobj", from)).strip();
    }

    private static int pageOneNumber(byte[] pdf) {
        try (PdfReader reader = new PdfReader(pdf)) {
            return reader.getPageOrigRef(1).getNumber();
        } catch (IOException e) {
            throw new IllegalStateException(e);
        }
    }

    private static int contentOfPageOne(byte[] pdf) {
        try (PdfReader reader = new PdfReader(pdf)) {
            return ((PRIndirectReference) reader.getPageN(1).get(PdfName.CONTENTS)).getNumber();
        } catch (IOException e) {
            throw new IllegalStateException(e);
        }
    }

    private static int last(byte[] pdf, String pattern) {
        Matcher found = Pattern.compile(pattern).matcher(new String(pdf, ISO_8859_1));
        int last = -1;
        while (found.find()) {
            last = Integer.parseInt(found.group(1));
        }
        return last;
    }
}
