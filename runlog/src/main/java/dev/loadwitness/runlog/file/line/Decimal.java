// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import static java.nio.charset.StandardCharsets.US_ASCII;

import java.math.BigDecimal;
import java.math.MathContext;

/**
 * Doubles as decimal text, rounded to the fewest digits that read back as the same double; integers without a point.
 *
 * <p>{@link Double#toString} of Java 17 does not always give the fewest digits.
 */
final class Decimal {
    private static final int MOST_DECIMALS = 17;
    private static final double EXACT = 0x1p53;
    private static final double[] TEN = new double[23];

    static {
        // Every power of ten up to 10^22 is an exact double.
        TEN[0] = 1;
        for (int i = 1; i < TEN.length; i++) {
            TEN[i] = TEN[i - 1] * 10;
        }
    }

    private Decimal() {}

    static String text(double value) {
        byte[] bytes = new byte[40];
        return new String(bytes, 0, put(value, bytes, 0), US_ASCII);
    }

    /** Writes {@code value}, which must be finite, and returns the position after it. Takes at most 32 bytes. */
    static int put(double value, byte[] bytes, int at) {
        if (!Double.isFinite(value)) {
            throw new IllegalArgumentException(value + " has no JSON form; what was not read is null");
        }
        double size = Math.abs(value);
        int decimals = 0;
        while (decimals <= MOST_DECIMALS) {
            double scaled = Math.rint(size * TEN[decimals]);
            if (scaled >= EXACT) {
                break;
            }
            // Both operands are exact, so this quotient is what the written decimal reads back as.
            if (scaled / TEN[decimals] == size && (scaled != 0 || decimals == 0)) {
                if (value < 0) {
                    bytes[at++] = '-';
                } else if (value == 0 && 1 / value < 0) {
                    return putText("-0.0", bytes, at);
                }
                return putScaled((long) scaled, decimals, bytes, at);
            }
            decimals++;
        }
        return putText(general(value), bytes, at);
    }

    private static String general(double value) {
        BigDecimal exact = new BigDecimal(value);
        for (int digits = 1; digits < 17; digits++) {
            BigDecimal rounded = exact.round(new MathContext(digits));
            if (rounded.doubleValue() == value) {
                return text(rounded);
            }
        }
        return text(exact.round(new MathContext(17)));
    }

    /** A bare integer would have to fit 64 bits: the format calls anything larger absurd. */
    private static String text(BigDecimal value) {
        BigDecimal trimmed = value.stripTrailingZeros();
        String text = trimmed.toString();
        return text.indexOf('E') < 0 && text.indexOf('.') < 0 ? text + ".0" : text;
    }

    static int put(long value, byte[] bytes, int at) {
        if (value < 0) {
            return putText(Long.toString(value), bytes, at);
        }
        return putScaled(value, 0, bytes, at);
    }

    private static int putScaled(long digits, int decimals, byte[] bytes, int at) {
        int length = 1;
        for (long rest = digits / 10; rest > 0; rest /= 10) {
            length++;
        }
        length = Math.max(length, decimals + 1);
        int end = at + length + (decimals > 0 ? 1 : 0);
        int to = end;
        for (int i = 0; i < length; i++) {
            if (i == decimals && decimals > 0) {
                bytes[--to] = '.';
            }
            bytes[--to] = (byte) ('0' + digits % 10);
            digits /= 10;
        }
        return end;
    }

    private static int putText(String text, byte[] bytes, int at) {
        for (int i = 0; i < text.length(); i++) {
            bytes[at + i] = (byte) text.charAt(i);
        }
        return at + text.length();
    }

    /** The double nearest to {@code mantissa · 10^exponent}, or NaN if that needs more than one rounding. */
    static double exact(long mantissa, int exponent) {
        // W. D. Clinger, How to Read Floating Point Numbers Accurately (PLDI 1990): both operands exact, one rounding.
        if (mantissa > (1L << 53) || exponent < -22 || exponent > 22) {
            return Double.NaN;
        }
        return exponent < 0 ? mantissa / TEN[-exponent] : mantissa * TEN[exponent];
    }
}
