// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.file.line.Place;
import java.time.Instant;
import java.util.ArrayDeque;
import java.util.Deque;
import java.util.List;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/** Follows one boot: its samples and the gaps between them, its last minute, and what a person was asked for last. */
final class SegmentScan {
    private static final int MOST_LAST_EVENTS = 100;
    private static final double LAST_EVENTS_SECONDS = 60;

    private final Boot boot;
    private final Place place;
    private @Nullable BootEvidence evidence;
    private LastMinute lastMinute = new LastMinute(List.of());
    private long count;
    private @Nullable At tableAt;
    private @Nullable At first;
    private @Nullable At last;
    private @Nullable Instant lastUtc;
    private final Deque<NotedEvent> lastEvents = new ArrayDeque<>();
    private @Nullable NotedEvent asked;
    private double longestGap;
    private @Nullable At gapAt;

    SegmentScan(Boot boot, Place place) {
        this.boot = boot;
        this.place = place;
    }

    /** The last sample; null before the first. */
    @Nullable
    At last() {
        return last;
    }

    void evidence(BootEvidence found) {
        evidence = found;
    }

    void table(At at, List<Channel> channels) {
        tableAt = tableAt == null ? at : tableAt;
        lastMinute = new LastMinute(channels);
    }

    void event(NotedEvent noted) {
        lastEvents.add(noted);
        while (lastEvents.size() > MOST_LAST_EVENTS) {
            lastEvents.removeFirst();
        }
        Optional<EventKind> kind = noted.event().known();
        if (kind.filter(k -> k == EventKind.OPERATOR_ASKED).isPresent()) {
            asked = noted;
        } else if (kind.filter(
                        k -> k == EventKind.OPERATOR_DONE || k == EventKind.STAGE_LEFT_OUT || k == EventKind.LOAD_BEGIN)
                .isPresent()) {
            asked = null;
        }
    }

    /** Seconds since the sample before; 0 at the first. */
    double since(At at) {
        return last == null ? 0 : at.seconds() - last.seconds();
    }

    void sample(At at, Instant utc, double[] values) {
        if (first == null) {
            first = at;
        }
        last = at;
        lastUtc = utc;
        count++;
        lastMinute.add(at.seconds(), values);
    }

    /** The time before the first sample and after the last one counts too: there the log says nothing either. */
    void gapTo(At at) {
        At from = last == null ? tableAt : last;
        if (from != null && at.segment() == from.segment() && at.seconds() - from.seconds() > longestGap) {
            longestGap = at.seconds() - from.seconds();
            gapAt = at;
        }
    }

    /** As many samples as the period gives between the first and the last. */
    long due(double periodSeconds) {
        return first == null || last == null ? 0 : 1 + Math.round((last.seconds() - first.seconds()) / periodSeconds);
    }

    Segment finish() {
        double until = last == null ? 0 : last.seconds();
        return new Segment(
                boot,
                place,
                Optional.ofNullable(evidence),
                count,
                first,
                last,
                Optional.ofNullable(lastUtc),
                longestGap,
                gapAt,
                lastMinute,
                lastEvents.stream()
                        .filter(e -> e.at().seconds() >= until - LAST_EVENTS_SECONDS)
                        .toList(),
                Optional.ofNullable(asked));
    }
}
