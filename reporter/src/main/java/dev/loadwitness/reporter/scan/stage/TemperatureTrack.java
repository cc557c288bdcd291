// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Room;
import dev.loadwitness.reporter.scan.heat.ThermalScan;
import dev.loadwitness.runlog.Channel;
import java.util.Arrays;

/** Means of one temperature through one stage: ten seconds each, joined in pairs at {@link ThermalScan#MOST_BINS}. */
final class TemperatureTrack {
    private static final int MOST_BINS = ThermalScan.MOST_BINS;

    private final Channel channel;
    private final double begin;
    private final Room room;
    private double binSeconds = WindowTrack.FIRST_WINDOW_SECONDS;
    private double[] sum = new double[64];
    private int[] count = new int[64];
    private int used;

    TemperatureTrack(Channel channel, At begin, Room room) {
        this.channel = channel;
        this.room = room;
        room.take(bytes());
        this.begin = begin.seconds();
    }

    void add(double seconds, double celsius) {
        if (Double.isNaN(celsius) || seconds < begin) {
            return;
        }
        int bin = (int) ((seconds - begin) / binSeconds);
        while (bin >= MOST_BINS) {
            halve();
            bin = (int) ((seconds - begin) / binSeconds);
        }
        if (bin >= sum.length) {
            int length = 2 * Integer.highestOneBit(bin);
            room.take((long) (Double.BYTES + Integer.BYTES) * (length - sum.length));
            sum = Arrays.copyOf(sum, length);
            count = Arrays.copyOf(count, length);
        }
        used = Math.max(used, bin + 1);
        sum[bin] += celsius;
        count[bin]++;
    }

    private void halve() {
        int half = sum.length / 2;
        for (int i = 0; i < half; i++) {
            sum[i] = sum[2 * i] + sum[2 * i + 1];
            count[i] = count[2 * i] + count[2 * i + 1];
        }
        Arrays.fill(sum, half, sum.length, 0);
        Arrays.fill(count, half, count.length, 0);
        used = (used + 1) / 2;
        binSeconds *= 2;
    }

    private long bytes() {
        return (long) (Double.BYTES + Integer.BYTES) * sum.length;
    }

    StageTemperature finish() {
        room.take((long) Double.BYTES * used - bytes());
        double[] means = new double[used];
        for (int i = 0; i < used; i++) {
            means[i] = count[i] == 0 ? Double.NaN : sum[i] / count[i];
        }
        return new StageTemperature(channel, binSeconds, means);
    }
}
