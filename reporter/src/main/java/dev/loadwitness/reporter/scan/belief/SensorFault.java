// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.belief;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;

/**
 * Why a channel measured nothing, although it answered.
 *
 * @param at first time that it showed
 * @param value the reading that stood still, or the first that cannot be
 * @param count readings that cannot be; 0 for one that stands still
 * @param readings all answers of the channel
 */
public record SensorFault(Channel channel, Kind kind, At at, double value, long count, long readings) {
    /** What gave it away. */
    public enum Kind {
        /** The reading never moved while the load on its part came or went. */
        STUCK,
        /** Readings that no such sensor can give: out of physical range, or a value that stands for "no answer". */
        IMPOSSIBLE,
        /** A change faster than heat can move, after which the reading stayed where it was. */
        JUMPED
    }
}
