// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.file.line.Place;
import java.util.Optional;

/**
 * Where in the log to look.
 *
 * @param named where, in words, for what has no line in the log: {@code job sheet}; else empty
 * @param line its record
 * @param time when in the run
 * @param text what is to be seen there
 */
public record Evidence(String named, Optional<Place> line, Optional<Time> time, String text) {
    /** Seconds since the start of a segment, the first being 0. */
    public record Time(int segment, double seconds) {}

    /** A record with a time. */
    public static Evidence of(At at, String text) {
        return new Evidence("", Optional.of(at.place()), Optional.of(time(at)), text);
    }

    /** A place without a time. */
    public static Evidence of(Place line, String text) {
        return new Evidence("", Optional.of(line), Optional.empty(), text);
    }

    /** What has no line in the log. */
    public static Evidence named(String where, String text) {
        return new Evidence(where, Optional.empty(), Optional.empty(), text);
    }

    /** A moment between records. */
    public static Evidence named(String where, At at, String text) {
        return new Evidence(where, Optional.empty(), Optional.of(time(at)), text);
    }

    private static Time time(At at) {
        return new Time(at.segment(), at.seconds());
    }

    /** As printed, for example {@code line 812}; may be empty. */
    public String place() {
        return line.map(Place::toString).orElse(named);
    }

    /** As printed, for example {@code 22:14} (minutes and seconds since the start of its segment); empty without a time. */
    public String at() {
        return time.map(m -> At.clock(m.segment(), m.seconds())).orElse("");
    }
}
