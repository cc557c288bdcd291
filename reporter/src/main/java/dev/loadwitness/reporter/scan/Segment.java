// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.file.line.Place;
import java.time.Instant;
import java.util.List;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * One boot of the run.
 *
 * @param evidence of how the boot before ended, if it was gathered
 * @param samples how many there are
 * @param first and {@code last}: of its samples; null if there are none
 * @param lastUtc wall clock at the last sample; empty if there are none
 * @param longestGapSeconds longest time without a sample, from the channel table to the first and from the last to the
 *     close included
 * @param gapAt where that gap ended; null if there was none
 * @param lastMoments what the last minute looked like
 * @param lastEvents events of the minute before its last record, the last hundred of them
 * @param asked what the operator was asked for and had not done when the segment ended, no load having begun since
 */
public record Segment(
        Boot boot,
        Place place,
        Optional<BootEvidence> evidence,
        long samples,
        @Nullable At first,
        @Nullable At last,
        Optional<Instant> lastUtc,
        double longestGapSeconds,
        @Nullable At gapAt,
        LastMinute lastMoments,
        List<NotedEvent> lastEvents,
        Optional<NotedEvent> asked) {
    public Segment {
        lastEvents = List.copyOf(lastEvents);
    }

    /** About as much as it keeps. */
    long bytes() {
        long texts = evidence.map(e -> e.facts().entrySet().stream()
                        .mapToLong(f -> 50L + f.getKey().length() + f.getValue().length())
                        .sum())
                .orElse(0L);
        return 1_000
                + lastMoments.bytes()
                + 2 * (boot.bootId().length() + texts)
                + 2 * lastEvents.stream().mapToLong(NotedEvent::chars).sum();
    }
}
