// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import static java.nio.charset.StandardCharsets.US_ASCII;

import java.security.DigestException;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.Arrays;

/**
 * The chain: each line ends in SHA-256 over the previous line's chain value (as its 64 hex digits) and the line's own
 * bytes before the suffix. Not keyed: it shows damage, and proves nothing against whoever held the log.
 */
public final class Chain {
    public static final int HEX_LENGTH = 64;
    public static final int SUFFIX_LENGTH = 76;

    private static final byte[] HEAD = ",\"chain\":\"".getBytes(US_ASCII);
    private static final byte[] TAIL = "\"}".getBytes(US_ASCII);
    private static final byte[] DIGITS = "0123456789abcdef".getBytes(US_ASCII);

    /** 0 for each lower-case hexadecimal digit, else 1. */
    private static final byte[] NOT_HEX = notHex();

    private final MessageDigest sha256 = sha256();
    private final byte[] raw = new byte[32];

    public static MessageDigest sha256() {
        try {
            return MessageDigest.getInstance("SHA-256");
        } catch (NoSuchAlgorithmException e) {
            throw new AssertionError("every Java has SHA-256", e);
        }
    }

    /** The value before the first record. */
    public static byte[] start() {
        byte[] zeros = new byte[HEX_LENGTH];
        Arrays.fill(zeros, (byte) '0');
        return zeros;
    }

    /** Puts into {@code hex} the chain value of the line whose bytes before the suffix are {@code from..to}. */
    public void next(byte[] previousHex, byte[] bytes, int from, int to, byte[] hex) {
        sha256.update(previousHex, 0, HEX_LENGTH);
        sha256.update(bytes, from, to - from);
        finish();
        for (int i = 0; i < raw.length; i++) {
            hex[2 * i] = DIGITS[(raw[i] >> 4) & 15];
            hex[2 * i + 1] = DIGITS[raw[i] & 15];
        }
    }

    /** True if the line {@code from..to} (with its suffix) follows from {@code previousHex}. */
    public boolean fits(byte[] previousHex, byte[] bytes, int from, int to) {
        sha256.update(previousHex, 0, HEX_LENGTH);
        sha256.update(bytes, from, to - SUFFIX_LENGTH - from);
        finish();
        int at = to - SUFFIX_LENGTH + HEAD.length;
        int differences = 0;
        for (int i = 0; i < raw.length; i++) {
            differences |= DIGITS[(raw[i] >> 4) & 15] ^ bytes[at + 2 * i];
            differences |= DIGITS[raw[i] & 15] ^ bytes[at + 2 * i + 1];
        }
        return differences == 0;
    }

    private void finish() {
        try {
            sha256.digest(raw, 0, raw.length);
        } catch (DigestException e) {
            throw new AssertionError("32 bytes hold a SHA-256", e);
        }
    }

    /** True if the line {@code from..to} ends in the exact suffix. */
    public static boolean hasSuffix(byte[] bytes, int from, int to) {
        int at = to - SUFFIX_LENGTH;
        if (at < from || bytes[to - 1] != TAIL[1] || bytes[to - 2] != TAIL[0]) {
            return false;
        }
        for (int i = 0; i < HEAD.length; i++) {
            if (bytes[at + i] != HEAD[i]) {
                return false;
            }
        }
        return isHex(bytes, at + HEAD.length);
    }

    private static boolean isHex(byte[] bytes, int from) {
        // Without a branch for each digit: this is asked of every line.
        int wrong = 0;
        for (int i = from; i < from + HEX_LENGTH; i++) {
            wrong |= NOT_HEX[bytes[i] & 0xFF];
        }
        return wrong == 0;
    }

    private static byte[] notHex() {
        byte[] table = new byte[256];
        Arrays.fill(table, (byte) 1);
        for (byte digit : DIGITS) {
            table[digit] = 0;
        }
        return table;
    }

    public static boolean isHex(String text) {
        return text.length() == HEX_LENGTH
                && text.chars().allMatch(c -> (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'));
    }

    /** The value that the line ending at {@code to} states. */
    public static void stated(byte[] bytes, int to, byte[] hex) {
        System.arraycopy(bytes, to - SUFFIX_LENGTH + HEAD.length, hex, 0, HEX_LENGTH);
    }

    /** Writes the suffix and the line feed; returns the position after them. */
    public static int putSuffix(byte[] hex, byte[] bytes, int at) {
        System.arraycopy(HEAD, 0, bytes, at, HEAD.length);
        System.arraycopy(hex, 0, bytes, at + HEAD.length, HEX_LENGTH);
        System.arraycopy(TAIL, 0, bytes, at + HEAD.length + HEX_LENGTH, TAIL.length);
        bytes[at + SUFFIX_LENGTH] = '\n';
        return at + SUFFIX_LENGTH + 1;
    }

    public static String text(byte[] hex) {
        return new String(hex, US_ASCII);
    }

    public static byte[] bytes(String hex) {
        return hex.getBytes(US_ASCII);
    }
}
