// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.plan;

import java.math.BigDecimal;
import java.util.Locale;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/** Lengths of time as people type and read them. Held in seconds. */
public final class Span {
    public static final String EXAMPLES = "90s, 8min, 1.5h or 2days";

    private static final Pattern NUMBER_AND_UNIT = Pattern.compile("([0-9]{1,6}(?:\\.[0-9]{1,3})?) *([a-z]+)");
    private static final double MINUTE = 60;
    private static final double HOUR = 3600;
    private static final double DAY = 24 * HOUR;

    private Span() {}

    /** Seconds; empty for what is no length of time above zero with a unit. */
    public static OptionalDouble parse(String text) {
        Matcher parts = NUMBER_AND_UNIT.matcher(text.strip());
        if (!parts.matches()) {
            return OptionalDouble.empty();
        }
        Optional<Double> unit =
                switch (parts.group(2)) {
                    case "s" -> Optional.of(1.0);
                    case "min" -> Optional.of(MINUTE);
                    case "h" -> Optional.of(HOUR);
                    case "d", "day", "days" -> Optional.of(DAY);
                    default -> Optional.empty();
                };
        double seconds = new BigDecimal(parts.group(1)).doubleValue() * unit.orElse(0.0);
        return seconds > 0 ? OptionalDouble.of(seconds) : OptionalDouble.empty();
    }

    /** What one would set a clock to: whole seconds below ten minutes, else whole minutes; never less than needed. */
    public static double roundedUp(double seconds) {
        double step = seconds < 10 * MINUTE ? 1 : MINUTE;
        // The last bits of a logarithm must not cost a minute.
        return Math.ceil(seconds / step - 1e-9) * step;
    }

    /** For example {@code 95 s}, {@code 4 min 37 s}, {@code 24 min}, {@code 2 h 18 min}, {@code 3 days 4 h}; rounded up. */
    public static String write(double seconds) {
        double whole = roundedUp(seconds);
        if (whole < 2 * MINUTE) {
            return number(whole) + " s";
        }
        if (whole < 10 * MINUTE && whole % MINUTE != 0) {
            return number(Math.floor(whole / MINUTE)) + " min " + number(whole % MINUTE) + " s";
        }
        if (whole < 2 * HOUR) {
            return number(Math.ceil(whole / MINUTE)) + " min";
        }
        double days = Math.floor(whole / DAY);
        double hours = Math.floor((whole - days * DAY) / HOUR);
        double minutes = Math.ceil((whole - days * DAY - hours * HOUR) / MINUTE);
        return ((days > 0 ? number(days) + (days == 1 ? " day " : " days ") : "")
                        + (hours > 0 ? number(hours) + " h " : "")
                        + (minutes > 0 ? number(minutes) + " min" : ""))
                .strip();
    }

    private static String number(double whole) {
        return String.format(Locale.ROOT, "%.0f", whole);
    }
}
