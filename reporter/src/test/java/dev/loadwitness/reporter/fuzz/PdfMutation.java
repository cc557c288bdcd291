// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import static java.nio.charset.StandardCharsets.ISO_8859_1;

import java.io.ByteArrayOutputStream;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.regex.MatchResult;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import java.util.zip.Deflater;

/** Changes a PDF where it has a structure: objects, their dictionaries and streams, the table of places, revisions. */
final class PdfMutation {
    private static final int MOST_CHANGES = 6;
    private static final Pattern OBJECT =
            Pattern.compile("(?s)(?<=\\n)([0-9]{1,6}) 0 obj.{0,4000}?(?:endobj|stream\\r?\\n)");
    private static final Pattern TOKEN = Pattern.compile(
            "[0-9]{1,10} 0 R|/[A-Za-z0-9]+|-?[0-9]{1,10}(?:\\.[0-9]+)?|<[0-9A-Fa-f]{2,64}>|\\([^()\\n]{0,60}\\)");
    private static final Pattern TABLE = Pattern.compile("xref\n([0-9]{1,6}) ([0-9]{1,4})\n");
    private static final Pattern PLACES = Pattern.compile("(?<=\\n)[0-9]{10} [0-9]{5} [nf]");

    private static final List<String> ODD = List.of(
            "0",
            "-1",
            "1",
            "2147483647",
            "2147483648",
            "-2147483648",
            "99999999999999999999",
            "1e9",
            "0.000001",
            "null",
            "true",
            "[]",
            "<<>>",
            "()",
            "<>",
            "1 0 R",
            "0 0 R",
            "999999 0 R",
            "3 0 R",
            "/FlateDecode",
            "/ASCIIHexDecode",
            "[/FlateDecode /FlateDecode /FlateDecode]",
            "/Length",
            "/EmbeddedFile",
            "/Sig",
            "/ByteRange",
            "/Names",
            "/Kids",
            "/Encrypt 1 0 R",
            "/XRefStm 15",
            "/Prev 15",
            "(\\377\\376\\000)",
            "(run.jsonl)",
            "(../../run.jsonl)",
            "(run.part2.jsonl)",
            "(verdict.json)",
            "<feff202e>",
            "%",
            "<<",
            ">>",
            "endobj",
            "endstream",
            "stream",
            "[" + "[".repeat(2000),
            "<<".repeat(2000),
            "<</A ".repeat(500) + "1" + ">>".repeat(500));

    private final Choices choices;
    private String pdf;

    private PdfMutation(String pdf, Choices choices) {
        this.pdf = pdf;
        this.choices = choices;
    }

    static byte[] of(byte[] pdf, Choices choices) {
        PdfMutation mutation = new PdfMutation(new String(pdf, ISO_8859_1), choices);
        int changes = choices.oneOf(2) ? 1 : 1 + choices.below(MOST_CHANGES);
        boolean placesFit = !choices.oneOf(3);
        for (int i = 0; i < changes && choices.left() && !mutation.pdf.isEmpty(); i++) {
            mutation.change();
        }
        if (placesFit) {
            mutation.makePlacesFit();
        }
        return mutation.pdf.getBytes(ISO_8859_1);
    }

    private void change() {
        switch (choices.below(12)) {
            case 0, 1, 2 -> token();
            case 3 -> revision();
            case 4 -> places();
            case 5 -> objects();
            case 6 -> stream();
            case 7 -> ranges();
            case 8 -> pdf = pdf.substring(0, choices.below(pdf.length()));
            case 9 -> bytes();
            case 10 -> trailer();
            default -> pdf = pdf + pdf.substring(choices.below(pdf.length()));
        }
    }

    private List<MatchResult> found(Pattern pattern) {
        return pattern.matcher(pdf).results().toList();
    }

    private void replace(int from, int to, String text) {
        pdf = pdf.substring(0, from) + text + pdf.substring(to);
    }

    /** One number, name, text or reference of an object, mostly in the same length so that all places stay right. */
    private void token() {
        List<MatchResult> objects = found(OBJECT);
        if (objects.isEmpty()) {
            return;
        }
        MatchResult object = choices.of(objects);
        List<MatchResult> tokens = TOKEN.matcher(object.group()).results().toList();
        if (tokens.isEmpty()) {
            return;
        }
        MatchResult token = choices.of(tokens);
        String odd = choices.of(ODD);
        if (odd.length() < token.group().length() && !choices.oneOf(4)) {
            odd = odd + " ".repeat(token.group().length() - odd.length());
        }
        replace(object.start() + token.start(), object.start() + token.end(), odd);
    }

    /** Another body for an object, in a revision of its own behind all that is there, as any editor would write it. */
    private void revision() {
        List<MatchResult> objects = found(OBJECT);
        if (objects.isEmpty()) {
            return;
        }
        String number = choices.of(objects).group(1);
        String body = choices.oneOf(2)
                ? choices.of(ODD)
                : choices.of(objects)
                        .group()
                        .replaceFirst("^[0-9]+ 0 obj", "")
                        .replaceFirst("(?s)(endobj|stream\\r?\\n)$", "");
        int before = Math.max(0, pdf.lastIndexOf("startxref"));
        String prev = pdf.substring(before)
                .replaceAll("(?s)startxref\\s+([0-9]{1,10}).*", "$1")
                .strip();
        int trailer = pdf.lastIndexOf("/Root ");
        String root = trailer < 0 ? "1 0 R" : pdf.substring(trailer + 6, Math.min(pdf.length(), trailer + 16));
        root = root.replaceAll("(?s)^([0-9]+ 0 R).*", "$1");
        StringBuilder more = new StringBuilder("\n");
        int at = pdf.length() + 1;
        more.append(number).append(" 0 obj").append(body).append("\nendobj\n");
        int table = pdf.length() + more.length();
        more.append("xref\n").append(number).append(" 1\n");
        more.append(String.format(Locale.ROOT, "%010d 00000 n \n", at));
        more.append("trailer\n<</Size 500/Root ")
                .append(root)
                .append("/Prev ")
                .append(prev)
                .append(">>\nstartxref\n");
        more.append(table).append("\n%%EOF\n");
        pdf = pdf + more;
    }

    private void places() {
        List<MatchResult> entries = found(PLACES);
        if (entries.isEmpty()) {
            return;
        }
        MatchResult entry = choices.of(entries);
        String other =
                switch (choices.below(3)) {
                    case 0 -> String.format(Locale.ROOT, "%010d 00000 n", choices.below(pdf.length()));
                    case 1 -> choices.of(entries).group();
                    default -> "9999999999 65535 n";
                };
        replace(entry.start(), entry.end(), other);
    }

    /** One object in the place of another, or twice. */
    private void objects() {
        List<MatchResult> objects = found(OBJECT);
        if (objects.isEmpty()) {
            return;
        }
        MatchResult one = choices.of(objects);
        MatchResult other = choices.of(objects);
        if (choices.oneOf(2)) {
            replace(one.start(), one.end(), other.group());
        } else {
            replace(one.start(), one.start(), other.group() + "\nendobj\n");
        }
    }

    /** Other bytes in a stream: garbage, nothing, or what unpacks to very much. */
    private void stream() {
        List<Integer> begins = new ArrayList<>();
        for (int i = pdf.indexOf("stream\n"); i >= 0; i = pdf.indexOf("stream\n", i + 1)) {
            if (i > 3 && !pdf.startsWith("end", i - 3)) {
                begins.add(i + 7);
            }
        }
        if (begins.isEmpty()) {
            return;
        }
        int from = choices.of(begins);
        int to = pdf.indexOf("endstream", from);
        if (to < 0) {
            return;
        }
        String bytes =
                switch (choices.below(4)) {
                    case 0 -> "";
                    case 1 -> deflated(1 << 20);
                    case 2 -> deflated(1 << (20 + choices.below(7)));
                    default -> pdf.substring(from, from + choices.below(to - from + 1)) + "\0\377";
                };
        replace(from, to, bytes);
        int length = pdf.lastIndexOf("/Length ", from);
        if (length > 0 && from - length < 400 && !choices.oneOf(3)) {
            int end = length + 8;
            while (end < pdf.length() && Character.isDigit(pdf.charAt(end))) {
                end++;
            }
            replace(length + 8, end, Integer.toString(bytes.length()));
        }
    }

    /** Writes the last table of places anew, as a writer of these objects would have, and where it stands. */
    private void makePlacesFit() {
        int table = pdf.lastIndexOf("\nxref\n") + 1;
        int trailer = pdf.indexOf("trailer", Math.max(0, table));
        int start = pdf.lastIndexOf("startxref");
        Matcher head = TABLE.matcher(pdf);
        if (table <= 0 || trailer < 0 || start < trailer || !head.find(table) || head.start() != table) {
            return;
        }
        Map<Integer, Integer> places = new HashMap<>();
        for (MatchResult object : found(OBJECT)) {
            places.put(Integer.valueOf(object.group(1)), object.start());
        }
        int first = Integer.parseInt(head.group(1));
        int count = Integer.parseInt(head.group(2));
        StringBuilder more = new StringBuilder(head.group());
        for (int number = first; number < first + count; number++) {
            Integer place = places.get(number);
            more.append(
                    place == null ? "0000000000 65535 f \n" : String.format(Locale.ROOT, "%010d 00000 n \n", place));
        }
        more.append(pdf, trailer, start);
        more.append("startxref\n").append(table).append("\n%%EOF\n");
        pdf = pdf.substring(0, table) + more;
    }

    private static String deflated(int zeros) {
        Deflater deflater = new Deflater(Deflater.BEST_COMPRESSION);
        deflater.setInput(new byte[zeros]);
        deflater.finish();
        ByteArrayOutputStream out = new ByteArrayOutputStream();
        byte[] piece = new byte[8192];
        while (!deflater.finished()) {
            out.write(piece, 0, deflater.deflate(piece));
        }
        deflater.end();
        return out.toString(ISO_8859_1);
    }

    private void ranges() {
        int at = pdf.indexOf("/ByteRange");
        int open = at < 0 ? -1 : pdf.indexOf('[', at);
        int close = open < 0 ? -1 : pdf.indexOf(']', open);
        if (close < 0) {
            return;
        }
        String[] numbers = pdf.substring(open + 1, close).strip().split("\\s+");
        int which = choices.below(Math.max(1, numbers.length));
        if (which < numbers.length) {
            numbers[which] = choices.oneOf(2) ? Integer.toString(choices.below(pdf.length())) : choices.of(ODD);
        }
        String text = String.join(" ", numbers);
        int room = close - open - 1;
        replace(open + 1, close, text.length() < room ? text + " ".repeat(room - text.length()) : text);
    }

    private void bytes() {
        int at = choices.below(pdf.length());
        int count = 1 + choices.below(20);
        StringBuilder other = new StringBuilder();
        for (int i = 0; i < count; i++) {
            other.append((char) choices.below(256));
        }
        replace(at, Math.min(pdf.length(), at + count), other.toString());
    }

    private void trailer() {
        int at = pdf.lastIndexOf(choices.oneOf(2) ? "startxref" : "trailer");
        if (at < 0) {
            return;
        }
        switch (choices.below(3)) {
            case 0 ->
                replace(at, Math.min(pdf.length(), at + 40), "startxref\n" + choices.below(pdf.length()) + "\n%%EOF\n");
            case 1 -> replace(at, at, choices.of(ODD));
            default -> {
                List<MatchResult> tokens =
                        TOKEN.matcher(pdf.substring(at)).results().toList();
                if (!tokens.isEmpty()) {
                    MatchResult token = choices.of(tokens);
                    replace(at + token.start(), at + token.end(), choices.of(ODD));
                }
            }
        }
    }
}
