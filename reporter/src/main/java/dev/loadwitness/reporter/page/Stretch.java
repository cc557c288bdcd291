// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelKind;
import dev.loadwitness.runlog.Sample;
import java.time.Instant;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.Deque;
import java.util.List;

/**
 * Readings under one channel table: a restart, or a new table, begins another. Stretches are never joined.
 *
 * <p>A counter is turned into its growth a second since it last answered, as the judging scan does for drawing; a
 * decrease is a reset, after which it counts from zero.
 */
final class Stretch {
    /** What a person wants to see of the moments before an end. */
    private static final int KEPT_BEFORE_END = 3;

    /** Corrections of a wall clock in one stretch. */
    private static final int MOST_CLOCK_STEPS = 10_000;

    private static final long CLOCK_STEP_MILLIS = 20;

    /** One sample of the last few, as drawn. */
    @SuppressWarnings("ArrayRecordComponent") // made for a table, never compared
    record Kept(double seconds, Instant utc, double[] values) {}

    final int segment;
    final List<Channel> channels;
    final Column millis = Column.ofTimes();
    final List<Column> columns = new ArrayList<>();
    /** Pairs of sample number and the offset of UTC from the segment's clock in milliseconds, from there on. */
    final List<Long> utcOffsets = new ArrayList<>();

    final Deque<Kept> ending = new ArrayDeque<>();
    private final double[] previous;
    private final double[] previousSeconds;
    private double lastSeconds = Double.NaN;
    private long samples;

    Stretch(int segment, List<Channel> channels) {
        this.segment = segment;
        this.channels = channels;
        channels.forEach(c -> columns.add(Column.ofReadings()));
        previous = new double[channels.size()];
        previousSeconds = new double[channels.size()];
        Arrays.fill(previous, Double.NaN);
    }

    /** Nothing more comes: what packs the columns is let go. */
    void close() {
        millis.finish();
        columns.forEach(Column::finish);
    }

    long packedBytes() {
        return millis.packedBytes()
                + columns.stream().mapToLong(Column::packedBytes).sum();
    }

    long samples() {
        return samples;
    }

    double lastSeconds() {
        return lastSeconds;
    }

    /** Whether a sample is of this stretch: what does not fit the table, or runs backwards, is not drawn. */
    boolean takes(Sample sample) {
        return columns.size() == sample.values().length
                && segment == sample.at().segment()
                && !(sample.at().seconds() < lastSeconds);
    }

    /** Takes a sample, and gives it as it is drawn. */
    double[] add(Sample sample) {
        double seconds = sample.at().seconds();
        long at = Math.round(sample.at().nanos() / 1e6);
        millis.add((double) at);
        utc(sample.utc().toEpochMilli() - at);
        double[] drawn = new double[sample.values().length];
        for (int i = 0; i < drawn.length; i++) {
            double value = sample.values()[i];
            drawn[i] = channels.get(i).metric().kind() == ChannelKind.COUNTER ? rate(i, seconds, value) : value;
            columns.get(i).add(drawn[i]);
        }
        ending.add(new Kept(seconds, sample.utc(), drawn));
        if (ending.size() > KEPT_BEFORE_END) {
            ending.removeFirst();
        }
        lastSeconds = seconds;
        samples++;
        return drawn;
    }

    private double rate(int i, double seconds, double value) {
        if (Double.isNaN(value)) {
            return Double.NaN;
        }
        double before = previous[i];
        double since = seconds - previousSeconds[i];
        previous[i] = value;
        previousSeconds[i] = seconds;
        if (Double.isNaN(before) || since <= 0) {
            return Double.NaN;
        }
        return (value >= before ? value - before : value) / since;
    }

    private void utc(long offset) {
        int size = utcOffsets.size();
        if (size == 0 || Math.abs(offset - utcOffsets.get(size - 1)) > CLOCK_STEP_MILLIS) {
            utcOffsets.add(samples);
            utcOffsets.add(offset);
            if (size > 2 * MOST_CLOCK_STEPS) {
                throw Readings.tooMuch("more than " + MOST_CLOCK_STEPS + " steps of its wall clock");
            }
        }
    }
}
