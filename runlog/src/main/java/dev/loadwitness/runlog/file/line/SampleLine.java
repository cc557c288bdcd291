// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import static java.nio.charset.StandardCharsets.US_ASCII;

import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import java.time.Instant;
import java.util.Arrays;
import org.jspecify.annotations.Nullable;

/**
 * Sample lines in the exact form that our writer gives them, straight from the bytes. Anything else, however little
 * it differs, is left to {@link RecordDecoder}: what this class accepts, that one reads as the same.
 */
public final class SampleLine {
    private static final byte[] NUMBER = "{\"n\":".getBytes(US_ASCII);
    private static final byte[] SEGMENT = ",\"type\":\"sample\",\"seg\":".getBytes(US_ASCII);
    private static final byte[] TIME = ",\"t\":".getBytes(US_ASCII);
    private static final byte[] UTC = ",\"utc\":\"".getBytes(US_ASCII);
    private static final byte[] VALUES = "\",\"v\":[".getBytes(US_ASCII);
    private static final byte[] NULL = "null".getBytes(US_ASCII);
    private static final int LONG_DIGITS = 18;
    private static final int MOST_VALUES = 1 << 16;

    private final UtcText utcText = new UtcText();
    private double[] values = new double[32];
    private byte[] bytes = new byte[0];
    private int at;
    private long n;

    public long n() {
        return n;
    }

    /** The sample in {@code from..to}, a line with its suffix, and then {@link #n} is its number; null if it is none such. */
    public @Nullable Sample parse(byte[] line, int from, int to) {
        bytes = line;
        at = from;
        int end = to - Chain.SUFFIX_LENGTH;
        // Every scan below stops by itself at the suffix: it holds no digit, 'n', ',' or ']' where one is expected.
        if (!skip(NUMBER)) {
            return null;
        }
        n = natural();
        if (n < 0 || n > Format.MAX_N || !skip(SEGMENT)) {
            return null;
        }
        long segment = natural();
        if (segment < 0 || segment > Integer.MAX_VALUE || !skip(TIME)) {
            return null;
        }
        long nanos = natural();
        if (nanos < 0 || !skip(UTC) || end - at < UtcText.LENGTH) {
            return null;
        }
        Instant utc = utcText.parse(line, at);
        at += UtcText.LENGTH;
        if (utc == null || !skip(VALUES)) {
            return null;
        }
        int count = 0;
        if (line[at] == ']') {
            at++;
        } else {
            while (true) {
                if (count == values.length) {
                    if (count == MOST_VALUES) {
                        return null;
                    }
                    values = Arrays.copyOf(values, 2 * count);
                }
                if (!value(count)) {
                    return null;
                }
                count++;
                byte next = line[at++];
                if (next == ']') {
                    break;
                }
                if (next != ',') {
                    return null;
                }
            }
        }
        if (at != end) {
            return null;
        }
        return new Sample(new RunTime((int) segment, nanos), utc, Arrays.copyOf(values, count));
    }

    private boolean skip(byte[] expected) {
        for (byte b : expected) {
            if (bytes[at++] != b) {
                return false;
            }
        }
        return true;
    }

    /** Digits without a leading zero, at most 18 of them; or −1. */
    private long natural() {
        int first = at;
        long value = 0;
        int digit = bytes[at] - '0';
        while (digit >= 0 && digit <= 9 && at - first < LONG_DIGITS) {
            value = value * 10 + digit;
            digit = bytes[++at] - '0';
        }
        boolean zeroLed = at - first > 1 && bytes[first] == '0';
        return at == first || zeroLed ? -1 : value;
    }

    /** One value of the array. Forms with an exponent, and more than 18 digits, are left to the slow path. */
    private boolean value(int index) {
        byte[] b = bytes;
        int i = at;
        if (b[i] == 'n') {
            values[index] = Double.NaN;
            return skip(NULL);
        }
        boolean negative = b[i] == '-';
        if (negative) {
            i++;
        }
        int first = i;
        long mantissa = 0;
        int digit = b[i] - '0';
        while (digit >= 0 && digit <= 9 && i - first < LONG_DIGITS) {
            mantissa = mantissa * 10 + digit;
            digit = b[++i] - '0';
        }
        int whole = i - first;
        if (whole == 0 || (whole > 1 && b[first] == '0')) {
            return false;
        }
        int decimals = 0;
        if (b[i] == '.') {
            int point = i;
            digit = b[++i] - '0';
            while (digit >= 0 && digit <= 9 && i - first <= LONG_DIGITS) {
                mantissa = mantissa * 10 + digit;
                digit = b[++i] - '0';
            }
            decimals = i - point - 1;
            if (decimals == 0) {
                return false;
            }
        }
        double size = Decimal.exact(mantissa, -decimals);
        if (Double.isNaN(size)) {
            size = Double.parseDouble(new String(b, first, i - first, US_ASCII));
        }
        at = i;
        values[index] = negative ? -size : size;
        return true;
    }
}
