// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.series;

import dev.loadwitness.runlog.Channel;
import java.util.Arrays;

/** Thins one channel of one segment for drawing. */
final class SeriesScan {
    private static final int MOST_BINS = 2048;

    private final Channel channel;
    private final int segment;
    private double startSeconds = Double.NaN;
    private double binSeconds;
    private int used;
    private final double[] lowest = new double[MOST_BINS];
    private final double[] highest = new double[MOST_BINS];
    private final double[] sum = new double[MOST_BINS];
    private final long[] count = new long[MOST_BINS];

    SeriesScan(Channel channel, int segment, double periodSeconds) {
        // Two samples a bin at least: an empty bin is a gap in the drawing, and jitter must not make one.
        this.binSeconds = Math.max(1, 2 * periodSeconds);
        this.channel = channel;
        this.segment = segment;
        clear(0);
    }

    void add(double seconds, double value) {
        if (Double.isNaN(value)) {
            return;
        }
        if (Double.isNaN(startSeconds)) {
            startSeconds = Math.floor(seconds);
        }
        int bin = (int) ((seconds - startSeconds) / binSeconds);
        while (bin >= MOST_BINS) {
            halve();
            bin = (int) ((seconds - startSeconds) / binSeconds);
        }
        used = Math.max(used, bin + 1);
        lowest[bin] = Math.min(lowest[bin], value);
        highest[bin] = Math.max(highest[bin], value);
        sum[bin] += value;
        count[bin]++;
    }

    private void halve() {
        for (int i = 0; i < MOST_BINS / 2; i++) {
            lowest[i] = Math.min(lowest[2 * i], lowest[2 * i + 1]);
            highest[i] = Math.max(highest[2 * i], highest[2 * i + 1]);
            sum[i] = sum[2 * i] + sum[2 * i + 1];
            count[i] = count[2 * i] + count[2 * i + 1];
        }
        clear(MOST_BINS / 2);
        used = (used + 1) / 2;
        binSeconds *= 2;
    }

    private void clear(int from) {
        Arrays.fill(lowest, from, MOST_BINS, Double.POSITIVE_INFINITY);
        Arrays.fill(highest, from, MOST_BINS, Double.NEGATIVE_INFINITY);
        Arrays.fill(sum, from, MOST_BINS, 0);
        Arrays.fill(count, from, MOST_BINS, 0);
    }

    boolean isEmpty() {
        return used == 0;
    }

    Series finish() {
        double[] low = new double[used];
        double[] mean = new double[used];
        double[] high = new double[used];
        for (int i = 0; i < used; i++) {
            low[i] = count[i] == 0 ? Double.NaN : lowest[i];
            mean[i] = count[i] == 0 ? Double.NaN : sum[i] / count[i];
            high[i] = count[i] == 0 ? Double.NaN : highest[i];
        }
        return new Series(channel, segment, startSeconds, binSeconds, low, mean, high);
    }
}
