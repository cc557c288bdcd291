// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.file.Place;
import java.util.Optional;

/**
 * One boot of the run.
 *
 * @param evidence of how the boot before ended, if it was gathered
 * @param samples how many there are
 * @param first and {@code last}: of its samples; null if there are none
 * @param longestGapSeconds longest time without a sample, from the channel table to the first and from the last to the
 *     close included
 * @param gapAt where that gap ended; null if there was none
 * @param lastMoments what the last minute looked like
 */
public record Segment(
        Boot boot,
        Place place,
        Optional<BootEvidence> evidence,
        long samples,
        At first,
        At last,
        double longestGapSeconds,
        At gapAt,
        LastMinute lastMoments) {}
