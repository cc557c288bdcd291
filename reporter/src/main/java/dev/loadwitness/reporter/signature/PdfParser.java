// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.util.ArrayList;
import java.util.HexFormat;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/**
 * Reads single values out of PDF bytes. Knows only the part of the syntax that this program writes, and is bounded in
 * depth and length whatever the bytes are. Not for PDF files of others.
 */
final class PdfParser {
    private static final int DEPTH_MOST = 16;
    private static final int DIGITS_MOST = 10;

    private final byte[] bytes;
    private final int end;
    private int at;

    /** @param bytesMost how far a value may reach; memory is a small multiple of this */
    PdfParser(byte[] bytes, int from, int bytesMost) throws SigningException {
        if (from < 0 || from > bytes.length) {
            throw new SigningException("the PDF refers to byte " + from + ", outside the file");
        }
        this.bytes = bytes;
        this.at = from;
        this.end = (int) Math.min(bytes.length, (long) from + bytesMost);
    }

    int position() {
        return at;
    }

    PdfValue value() throws SigningException {
        return value(0);
    }

    PdfValue.Dictionary dictionary() throws SigningException {
        if (value() instanceof PdfValue.Dictionary dictionary) {
            return dictionary;
        }
        throw unexpected();
    }

    /** Steps over this word if it comes next, after any white space. */
    boolean take(String word) {
        skipWhite();
        if (!comesNext(word)) {
            return false;
        }
        at += word.length();
        return true;
    }

    void expect(String word) throws SigningException {
        if (!take(word)) {
            throw unexpected();
        }
    }

    int number() throws SigningException {
        skipWhite();
        if (whole() instanceof PdfValue.Whole whole && whole.value() >= 0 && whole.value() <= Integer.MAX_VALUE) {
            return (int) whole.value();
        }
        throw unexpected();
    }

    private PdfValue value(int depth) throws SigningException {
        if (depth > DEPTH_MOST) {
            throw new SigningException("the PDF nests more than " + DEPTH_MOST + " deep at byte " + at);
        }
        skipWhite();
        int c = peek();
        if (comesNext("<<")) {
            return dictionary(depth);
        }
        if (c == '[') {
            return array(depth);
        }
        if (c == '/') {
            return new PdfValue.Name(name());
        }
        if (c == '(') {
            return literal();
        }
        if (c == '<') {
            return hexadecimal();
        }
        if (c >= '0' && c <= '9') {
            return numberOrReference();
        }
        return other();
    }

    private PdfValue dictionary(int depth) throws SigningException {
        expect("<<");
        Map<String, PdfValue> entries = new LinkedHashMap<>();
        while (!take(">>")) {
            if (peek() != '/') {
                throw unexpected();
            }
            String key = name();
            if (entries.put(key, value(depth + 1)) != null) {
                throw new SigningException("the PDF gives /" + key + " twice in one place, before byte " + at);
            }
        }
        return new PdfValue.Dictionary(entries);
    }

    private PdfValue array(int depth) throws SigningException {
        expect("[");
        List<PdfValue> values = new ArrayList<>();
        while (!take("]")) {
            values.add(value(depth + 1));
        }
        return new PdfValue.Array(values);
    }

    private String name() throws SigningException {
        at++;
        StringBuilder name = new StringBuilder();
        while (isRegular(peek())) {
            int c = next();
            name.append((char) (c == '#' ? (hexDigit(next()) << 4) | hexDigit(next()) : c));
        }
        return name.toString();
    }

    private PdfValue literal() throws SigningException {
        at++;
        StringBuilder text = new StringBuilder();
        int open = 1;
        while (true) {
            int c = next();
            if (c == '\\') {
                text.append(escaped(next()));
                continue;
            }
            if (c == '(') {
                open++;
            } else if (c == ')' && --open == 0) {
                return new PdfValue.Text(text.toString());
            }
            text.append((char) c);
        }
    }

    private char escaped(int c) throws SigningException {
        return switch (c) {
            case 'n' -> '\n';
            case 'r' -> '\r';
            case 't' -> '\t';
            case 'b' -> '\b';
            case 'f' -> '\f';
            case '(', ')', '\\' -> (char) c;
            default -> throw unexpected();
        };
    }

    private PdfValue hexadecimal() throws SigningException {
        at++;
        StringBuilder text = new StringBuilder();
        while (peek() != '>') {
            text.append((char) ((hexDigit(next()) << 4) | hexDigit(next())));
        }
        at++;
        return new PdfValue.Text(text.toString());
    }

    private int hexDigit(int c) throws SigningException {
        if (!HexFormat.isHexDigit(c)) {
            throw unexpected();
        }
        return HexFormat.fromHexDigit(c);
    }

    private PdfValue numberOrReference() throws SigningException {
        PdfValue first = whole();
        int after = at;
        if (first instanceof PdfValue.Whole number && number.value() <= Integer.MAX_VALUE && take("0") && take("R")) {
            return new PdfValue.Reference((int) number.value());
        }
        at = after;
        return first;
    }

    private PdfValue whole() throws SigningException {
        int from = at;
        long value = 0;
        while (peek() >= '0' && peek() <= '9') {
            if (at - from >= DIGITS_MOST) {
                throw new SigningException("the PDF has an absurd number at byte " + from);
            }
            value = 10 * value + (next() - '0');
        }
        if (from == at) {
            throw unexpected();
        }
        if (peek() == '.') {
            at = from;
            return other();
        }
        return new PdfValue.Whole(value);
    }

    private PdfValue other() throws SigningException {
        StringBuilder written = new StringBuilder();
        while (isRegular(peek())) {
            written.append((char) next());
        }
        if (!written.toString().matches("true|false|null|[-+]?[0-9]*\\.?[0-9]+")) {
            throw unexpected();
        }
        return new PdfValue.Other(written.toString());
    }

    private void skipWhite() {
        while (isWhite(peek())) {
            at++;
        }
    }

    private boolean comesNext(String word) {
        for (int i = 0; i < word.length(); i++) {
            if (at + i >= end || bytes[at + i] != word.charAt(i)) {
                return false;
            }
        }
        return true;
    }

    /** The next byte, or -1 at the end. */
    private int peek() {
        return at < end ? bytes[at] & 0xFF : -1;
    }

    private int next() throws SigningException {
        int c = peek();
        if (c < 0) {
            throw new SigningException("the PDF ends, or goes on for too long, at byte " + at);
        }
        at++;
        return c;
    }

    private static boolean isWhite(int c) {
        return c == ' ' || c == '\n' || c == '\r' || c == '\t';
    }

    private static boolean isRegular(int c) {
        return c > ' ' && c < 0x7F && "()<>[]{}/%".indexOf(c) < 0;
    }

    private SigningException unexpected() {
        return new SigningException("the PDF is not of the shape that this program writes at byte " + at);
    }
}
