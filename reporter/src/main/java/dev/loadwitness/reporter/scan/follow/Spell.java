// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.follow;

/** A stretch in which a device held itself back, pauses that are too short to end it included. */
public record Spell(At from, double seconds) {
    /** Whether any of it lies within {@code seconds} after {@code start} in the same segment. */
    public boolean overlaps(int segment, double start, double seconds) {
        return from.segment() == segment && from.seconds() < start + seconds && from.seconds() + this.seconds > start;
    }
}
