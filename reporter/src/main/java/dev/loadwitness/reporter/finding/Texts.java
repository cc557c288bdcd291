// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import java.math.BigDecimal;
import java.math.RoundingMode;
import java.util.Locale;

/** Numbers as they stand in findings: the same on every machine. */
public final class Texts {
    private Texts() {}

    /** Rounded half up to {@code decimals} places; {@code unknown} if not finite. */
    public static String number(double value, int decimals) {
        if (!Double.isFinite(value)) {
            return "unknown";
        }
        return BigDecimal.valueOf(value)
                .setScale(decimals, RoundingMode.HALF_UP)
                .toPlainString();
    }

    /** {@code 98,132,074}: with a comma between thousands, which the report puts into its locale's way. */
    public static String count(long value) {
        return String.format(Locale.ROOT, "%,d", value);
    }

    /** {@code 95.2 %} of a fraction. */
    public static String percent(double fraction) {
        return number(fraction * 100, 1) + " %";
    }

    /** A number of the procedure, as it was written: 1, 0.83. */
    public static String plain(double value) {
        return BigDecimal.valueOf(value).stripTrailingZeros().toPlainString();
    }

    /** Up to four decimals, without the noise of a difference: 3.135, 3.3. */
    public static String asWritten(double value) {
        BigDecimal rounded = BigDecimal.valueOf(value).setScale(4, RoundingMode.HALF_UP);
        return (rounded.signum() == 0 ? BigDecimal.ZERO : rounded.stripTrailingZeros()).toPlainString();
    }

    /** {@code 1 h 2 min 5 s}, {@code 58 min 40 s}, {@code 9.5 s}. Rounded down: a promise is not rounded up. */
    public static String duration(double seconds) {
        if (!Double.isFinite(seconds)) {
            return "unknown";
        }
        if (seconds < 60) {
            BigDecimal tenths = BigDecimal.valueOf(seconds).setScale(1, RoundingMode.FLOOR);
            return (tenths.stripTrailingZeros().scale() <= 0 ? tenths.setScale(0, RoundingMode.FLOOR) : tenths)
                            .toPlainString()
                    + " s";
        }
        long whole = (long) Math.floor(seconds);
        long hours = whole / 3600;
        long minutes = whole / 60 % 60;
        long rest = whole % 60;
        StringBuilder text = new StringBuilder();
        if (hours > 0) {
            text.append(hours).append(" h ");
        }
        if (minutes > 0 || hours > 0) {
            text.append(minutes).append(" min");
        }
        if (rest > 0) {
            text.append(' ').append(rest).append(" s");
        }
        return text.toString();
    }

    public static String sentenceCase(String text) {
        return Character.toUpperCase(text.charAt(0)) + text.substring(1);
    }

    /** The part's name for sentences. */
    public static String part(dev.loadwitness.runlog.Role part) {
        return switch (part) {
            case CPU -> "the CPU";
            case MEMORY -> "memory";
            case GPU_DISCRETE -> "the discrete GPU";
            case GPU_INTEGRATED -> "the integrated GPU";
            default -> part.word();
        };
    }
}
