// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.verdict;

import java.time.DateTimeException;
import java.time.Instant;
import java.time.LocalDate;
import java.time.LocalTime;
import java.time.ZoneOffset;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.regex.Matcher;
import java.util.regex.Pattern;

/**
 * When the machine was last worked on: attempts before that were with another machine, so to say. Told by an entry of the
 * job sheet's {@code work-done} that begins with a date, {@code 2026-11-25 PU3 replaced}, or with a date and a time that
 * says its distance from UTC, {@code 2026-11-25T15:00+01:00 PU3 replaced}. Any other text dates nothing.
 *
 * @param moment the earliest that the entry can mean: a date alone begins 14 hours before it begins in UTC. What began
 *     later may have been after the work, and counts
 * @param written as it stands in the entry
 */
record LastWork(Instant moment, String written) {
    private static final Pattern DATED = Pattern.compile(
            "([0-9]{4}-[0-9]{2}-[0-9]{2})(?:[T ]([0-9]{2}:[0-9]{2})(?::[0-9]{2})? ?(Z|[+-][0-9]{2}:[0-9]{2}))?(?![0-9]).*");
    private static final ZoneOffset EARLIEST = ZoneOffset.ofHours(14);

    /** The latest of the dated entries. */
    static Optional<LastWork> of(List<String> workDone) {
        return workDone.stream().flatMap(entry -> one(entry).stream()).max(Comparator.comparing(LastWork::moment));
    }

    private static Optional<LastWork> one(String entry) {
        Matcher found = DATED.matcher(entry.strip());
        if (!found.matches()) {
            return Optional.empty();
        }
        try {
            LocalDate day = LocalDate.parse(found.group(1));
            if (found.group(2) == null) {
                return Optional.of(new LastWork(day.atStartOfDay().toInstant(EARLIEST), found.group(1)));
            }
            return Optional.of(new LastWork(
                    day.atTime(LocalTime.parse(found.group(2))).toInstant(ZoneOffset.of(found.group(3))),
                    found.group(1) + " " + found.group(2) + " " + found.group(3)));
        } catch (DateTimeException e) {
            return Optional.empty(); // such a day or time does not exist: it is text
        }
    }

    boolean isAfter(Instant start) {
        return start.isBefore(moment);
    }
}
