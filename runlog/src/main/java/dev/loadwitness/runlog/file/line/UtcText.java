// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import static java.nio.charset.StandardCharsets.US_ASCII;

import java.time.DateTimeException;
import java.time.Instant;
import java.time.LocalDateTime;
import java.time.ZoneOffset;
import java.util.Arrays;
import org.jspecify.annotations.Nullable;

/** UTC as the log writes it, exactly {@code YYYY-MM-DDThh:mm:ss.SSSZ}. Remembers the last second, in which most lie. */
public final class UtcText {
    static final int LENGTH = 24;
    private static final int SECOND_LENGTH = 19;
    private static final Instant FIRST = Instant.parse("0001-01-01T00:00:00.000Z");
    private static final Instant LAST = Instant.parse("9999-12-31T23:59:59.999Z");

    private final byte[] second = new byte[SECOND_LENGTH];
    private long epochSecond;

    /** Clocks after a flat battery may say anything: what four digits cannot hold becomes the nearest that they can. */
    public static String text(Instant utc) {
        Instant held = utc.isBefore(FIRST) ? FIRST : utc.isAfter(LAST) ? LAST : utc;
        LocalDateTime t = LocalDateTime.ofInstant(held, ZoneOffset.UTC);
        byte[] b = new byte[LENGTH];
        digits(t.getYear(), 4, b, 0);
        b[4] = '-';
        digits(t.getMonthValue(), 2, b, 5);
        b[7] = '-';
        digits(t.getDayOfMonth(), 2, b, 8);
        b[10] = 'T';
        digits(t.getHour(), 2, b, 11);
        b[13] = ':';
        digits(t.getMinute(), 2, b, 14);
        b[16] = ':';
        digits(t.getSecond(), 2, b, 17);
        b[19] = '.';
        digits(t.getNano() / 1_000_000, 3, b, 20);
        b[23] = 'Z';
        return new String(b, US_ASCII);
    }

    private static void digits(int value, int count, byte[] bytes, int at) {
        for (int i = at + count - 1; i >= at; i--) {
            bytes[i] = (byte) ('0' + value % 10);
            value /= 10;
        }
    }

    @Nullable
    Instant parse(String text) {
        byte[] bytes = text.getBytes(US_ASCII);
        return text.length() == LENGTH && bytes.length == LENGTH ? parse(bytes, 0) : null;
    }

    /** The instant written in the 24 bytes from {@code at}, or null if they are none. */
    @Nullable
    Instant parse(byte[] bytes, int at) {
        if (bytes[at + 19] != '.' || bytes[at + 23] != 'Z') {
            return null;
        }
        int millis = number(bytes, at + 20, 3);
        if (millis < 0) {
            return null;
        }
        if (!Arrays.equals(second, 0, SECOND_LENGTH, bytes, at, at + SECOND_LENGTH) && !remember(bytes, at)) {
            return null;
        }
        return Instant.ofEpochSecond(epochSecond, millis * 1_000_000L);
    }

    private boolean remember(byte[] b, int at) {
        if (b[at + 4] != '-' || b[at + 7] != '-' || b[at + 10] != 'T' || b[at + 13] != ':' || b[at + 16] != ':') {
            return false;
        }
        int year = number(b, at, 4);
        int month = number(b, at + 5, 2);
        int day = number(b, at + 8, 2);
        int hour = number(b, at + 11, 2);
        int minute = number(b, at + 14, 2);
        int sec = number(b, at + 17, 2);
        if (year < 1) {
            return false;
        }
        try {
            epochSecond = LocalDateTime.of(year, month, day, hour, minute, sec).toEpochSecond(ZoneOffset.UTC);
        } catch (DateTimeException e) {
            return false;
        }
        System.arraycopy(b, at, second, 0, SECOND_LENGTH);
        return true;
    }

    private static int number(byte[] bytes, int at, int count) {
        int value = 0;
        for (int i = at; i < at + count; i++) {
            int digit = bytes[i] - '0';
            if (digit < 0 || digit > 9) {
                return -1;
            }
            value = value * 10 + digit;
        }
        return value;
    }
}
