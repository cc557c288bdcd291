// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.util.Arrays;
import java.util.Base64;
import java.util.zip.Deflater;
import java.util.zip.DeflaterOutputStream;
import org.jspecify.annotations.Nullable;

/**
 * The readings of one channel, packed for the page as they pass: only packed bytes and one open block are held.
 *
 * <p>Packed form, deflated (RFC 1951, no wrapper) and then Base64: blocks, each a decimal exponent (one signed byte), a
 * count, and that many numbers. Counts and numbers are base-128 varints, lowest bits first. A number 0 says "no
 * reading"; any other, less one, is the zigzag difference from the reading before it in the block (0 before the first).
 * A reading is that sum times ten to the exponent. The exponent is the coarsest that loses nothing of the block; where
 * that would need more than seven digits, the reading is rounded to seven, which is what the page's 32-bit numbers hold; times are kept whole.
 */
final class Column {
    private static final int BLOCK = 4096;
    private static final int FINEST = -12;
    private static final double SEVEN_DIGITS = 9_999_999;
    /** Whole numbers up to here are exact in the page's 64-bit numbers. */
    private static final double FIFTEEN_DIGITS = 999_999_999_999_999.0;

    private final double most;
    private final int coarsest;

    private ByteArrayOutputStream packed = new ByteArrayOutputStream(256);
    private final Deflater deflater = new Deflater(Deflater.BEST_COMPRESSION, true);
    private final DeflaterOutputStream out = new DeflaterOutputStream(packed, deflater, 512);
    /** Grows to {@link #BLOCK}; empty once finished. */
    private double[] block = new double[64];

    private @Nullable String finished;
    private int open;
    private long count;

    private Column(double most, int coarsest) {
        this.most = most;
        this.coarsest = coarsest;
    }

    static Column ofReadings() {
        return new Column(SEVEN_DIGITS, 9);
    }

    /** For whole milliseconds, kept to the last one. */
    static Column ofTimes() {
        return new Column(FIFTEEN_DIGITS, 0);
    }

    /** NaN for no reading. */
    void add(double value) {
        if (open == block.length) {
            block = Arrays.copyOf(block, 2 * open);
        }
        block[open++] = value;
        count++;
        if (open == BLOCK) {
            flush();
        }
    }

    long count() {
        return count;
    }

    int packedBytes() {
        return finished == null ? packed.size() : finished.length();
    }

    /** Base64 of the packed form; nothing can be added afterwards. */
    String finish() {
        if (finished != null) {
            return finished;
        }
        flush();
        try {
            out.close();
        } catch (IOException e) {
            throw new UncheckedIOException(e); // a byte array does not fail
        }
        deflater.end();
        finished = Base64.getEncoder().encodeToString(packed.toByteArray());
        packed = new ByteArrayOutputStream(0);
        block = new double[0];
        return finished;
    }

    private void flush() {
        if (open == 0) {
            return;
        }
        int exponent = exponent();
        try {
            out.write(exponent);
            varint(open);
            long before = 0;
            for (int i = 0; i < open; i++) {
                if (Double.isNaN(block[i])) {
                    out.write(0);
                    continue;
                }
                long now = Math.round(scaled(block[i], exponent));
                long difference = now - before;
                varint(((difference << 1) ^ (difference >> 63)) + 1);
                before = now;
            }
        } catch (IOException e) {
            throw new UncheckedIOException(e); // a byte array does not fail
        }
        open = 0;
    }

    private int exponent() {
        double largest = 0;
        for (int i = 0; i < open; i++) {
            if (Math.abs(block[i]) > largest) {
                largest = Math.abs(block[i]);
            }
        }
        int exponent = coarsest;
        while (exponent > FINEST && !whole(exponent, largest) && scaled(largest, exponent - 1) <= most) {
            exponent--;
        }
        while (scaled(largest, exponent) > most) {
            exponent++; // past the coarsest only for numbers that no sensor gives
        }
        return exponent;
    }

    private boolean whole(int exponent, double largest) {
        double tolerance = 1e-9 * scaled(largest, exponent);
        for (int i = 0; i < open; i++) {
            double s = scaled(block[i], exponent);
            if (Math.abs(s - Math.rint(s)) > tolerance) {
                return false;
            }
        }
        return true;
    }

    /** Powers of ten up to 22 are exact, so that a decimal reading comes out whole. */
    private static double scaled(double value, int exponent) {
        return exponent < 0 ? value * Math.pow(10, -exponent) : value / Math.pow(10, exponent);
    }

    private void varint(long number) throws IOException {
        long rest = number;
        while (rest > 0x7F) {
            out.write((int) (rest & 0x7F) | 0x80);
            rest >>>= 7;
        }
        out.write((int) rest);
    }
}
