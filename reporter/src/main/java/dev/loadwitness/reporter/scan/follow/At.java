// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.follow;

import dev.loadwitness.runlog.file.line.Place;
import java.util.Locale;

/** A moment of the run and where it stands in the log. Seconds count from the start of the segment. */
public record At(Place place, int segment, double seconds) {
    /** The same place in the log, later: for people, who look for the time. */
    public At plus(double laterSeconds) {
        return new At(place, segment, seconds + laterSeconds);
    }

    /** For people: {@code 22:14}, or {@code boot 2 0:05} after a restart. */
    public String clock() {
        return clock(segment, seconds);
    }

    /** As {@link #clock()}, of a moment without a place. */
    public static String clock(int segment, double seconds) {
        long whole = (long) Math.floor(seconds);
        String clock = whole >= 3600
                ? String.format(Locale.ROOT, "%d:%02d:%02d", whole / 3600, whole / 60 % 60, whole % 60)
                : String.format(Locale.ROOT, "%d:%02d", whole / 60, whole % 60);
        return segment == 0 ? clock : "boot " + (segment + 1) + " " + clock;
    }
}
