// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.Segment;
import java.time.Duration;
import java.time.Instant;
import java.time.temporal.ChronoUnit;
import java.util.Optional;

/** When a boot ended, by the wall clock: between its last sample and the first sign of the next. Never a point. */
final class TimeOfDeath {
    /** A clock chip counts whole seconds, so a boot can believe that it began up to a second earlier than it did. */
    private static final Duration CHIP = Duration.ofSeconds(1);

    private final Segment before;
    private final Optional<Segment> after;
    private final boolean sameBoot;

    TimeOfDeath(Segment before, Optional<Segment> after, boolean sameBoot) {
        this.before = before;
        this.after = after;
        this.sameBoot = sameBoot;
    }

    /** Last durable sample; empty where the clock was not right. */
    Optional<Instant> from() {
        return before.boot().utcTrusted() ? before.lastUtc() : Optional.empty();
    }

    /** First sign of the next boot: its own start where that is known, else its first record. */
    Optional<Instant> to() {
        if (after.isEmpty() || !after.get().boot().utcTrusted()) {
            return Optional.empty();
        }
        Instant noted = after.get().boot().utc();
        double up = after.get().boot().bootTimeSeconds();
        if (sameBoot || !Double.isFinite(up) || up < 0) {
            return Optional.of(noted);
        }
        Instant began = noted.minusNanos(Math.round(up * 1e9)).plus(CHIP);
        return Optional.of(began.isBefore(noted) ? began : noted);
    }

    String words() {
        if (before.lastUtc().isEmpty()) {
            return "unknown: no sample";
        }
        if (from().isEmpty()) {
            return "unknown: the clock was not right in the boot that ended";
        }
        String begin = text(from().get(), ChronoUnit.MILLIS, false);
        if (after.isEmpty()) {
            return "after " + begin + "; nothing tells of what followed";
        }
        if (to().isEmpty()) {
            return "unknown: the clock was not right at the next boot (after " + begin + " by the clock before)";
        }
        if (to().get().isBefore(from().get())) {
            return "unknown: the clocks of the two boots contradict each other (after " + begin
                    + " by the clock before)";
        }
        double seconds = Duration.between(from().get(), to().get()).toMillis() / 1e3;
        return "between " + begin + " and " + text(to().get(), ChronoUnit.MILLIS, true) + " ("
                + Texts.duration(seconds < 60 ? Math.ceil(seconds * 10) / 10 : Math.ceil(seconds)) + ")";
    }

    private static String text(Instant moment, ChronoUnit unit, boolean up) {
        Instant floor = moment.truncatedTo(unit);
        return (up && floor.isBefore(moment) ? floor.plus(1, unit) : floor).toString();
    }
}
