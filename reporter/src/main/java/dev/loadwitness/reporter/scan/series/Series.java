// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.series;

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
    /** The same in bins of twice the length; of one bin, itself. */
    public Series halved() {
        if (mean.length < 2) {
            return this;
        }
        int bins = (mean.length + 1) / 2;
        double[] low = new double[bins];
        double[] middle = new double[bins];
        double[] high = new double[bins];
        for (int i = 0; i < bins; i++) {
            int second = Math.min(2 * i + 1, mean.length - 1);
            low[i] = lower(lowest[2 * i], lowest[second]);
            high[i] = -lower(-highest[2 * i], -highest[second]);
            middle[i] = Double.isNaN(mean[2 * i])
                    ? mean[second]
                    : Double.isNaN(mean[second]) ? mean[2 * i] : mean[2 * i] / 2 + mean[second] / 2;
        }
        return new Series(channel, segment, startSeconds, 2 * binSeconds, low, middle, high);
    }

    private static double lower(double a, double b) {
        return Double.isNaN(a) || b < a ? b : a;
    }
}
