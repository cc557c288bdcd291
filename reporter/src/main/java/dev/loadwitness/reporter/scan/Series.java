// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Channel;

/**
 * A channel over one segment, thinned for drawing: bins of equal length, at most 2,048.
 *
 * @param segment the boot it belongs to; {@code startSeconds} counts from that segment's start
 * @param startSeconds start of the first bin
 * @param binSeconds length of each bin
 * @param mean by bin, in the channel's unit (for counters: rate per second); NaN for a bin without readings
 */
@SuppressWarnings("ArrayRecordComponent") // thousands of numbers, made for drawing
public record Series(
        Channel channel,
        int segment,
        double startSeconds,
        double binSeconds,
        double[] lowest,
        double[] mean,
        double[] highest) {
    public Series {
        requireNonNull(channel, "channel");
        requireNonNull(lowest, "lowest");
        requireNonNull(mean, "mean");
        requireNonNull(highest, "highest");
    }
}
