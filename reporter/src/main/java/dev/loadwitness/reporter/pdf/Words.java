// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import dev.loadwitness.reporter.criteria.Outcome;
import dev.loadwitness.runlog.Role;
import java.time.Instant;
import java.time.ZoneOffset;
import java.time.format.DateTimeFormatter;
import java.util.Locale;
import java.util.OptionalDouble;

/** How the report writes dates, numbers and the words of the vocabulary. */
final class Words {
    private static final DateTimeFormatter MINUTE =
            DateTimeFormatter.ofPattern("uuuu-MM-dd HH:mm 'UTC'", Locale.ROOT).withZone(ZoneOffset.UTC);
    private static final DateTimeFormatter DAY =
            DateTimeFormatter.ofPattern("uuuu-MM-dd", Locale.ROOT).withZone(ZoneOffset.UTC);

    private Words() {}

    static String minute(Instant instant) {
        return MINUTE.format(instant);
    }

    static String day(Instant instant) {
        return DAY.format(instant);
    }

    /** {@code NOT MEASURED}. */
    static String loud(Outcome outcome) {
        return outcome.word().toUpperCase(Locale.ROOT).replace('-', ' ');
    }

    /** Of a whole run, what was not decided is inconclusive, whatever the reason. */
    static Outcome ofRun(Outcome outcome) {
        return outcome == Outcome.PASS || outcome == Outcome.FAIL ? outcome : Outcome.INCONCLUSIVE;
    }

    static String role(Role role) {
        return switch (role) {
            case CPU -> "CPU";
            case GPU_DISCRETE -> "Discrete GPU";
            case GPU_INTEGRATED -> "Integrated GPU";
            default -> {
                String word = role.word();
                yield word.substring(0, 1).toUpperCase(Locale.ROOT) + word.substring(1);
            }
        };
    }

    static String number(double value, String unit) {
        String digits = value == Math.rint(value) && Math.abs(value) < 1e9
                ? String.format(Locale.ROOT, "%.0f", value)
                : String.format(Locale.ROOT, "%s", value);
        return unit.isEmpty() ? digits : digits + " " + unit;
    }

    static String number(OptionalDouble value, String unit) {
        return value.isPresent() ? number(value.getAsDouble(), unit) : "not stated";
    }

    /** {@code 22:14}, minutes and seconds. */
    static String clock(double seconds) {
        long whole = Math.round(seconds);
        return String.format(Locale.ROOT, "%d:%02d", Math.floorDiv(whole, 60), Math.floorMod(whole, 60));
    }
}
