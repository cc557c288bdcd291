// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.ArrayDeque;
import java.util.Comparator;
import java.util.Deque;
import java.util.List;
import java.util.TreeMap;
import java.util.stream.Stream;
import org.jspecify.annotations.Nullable;

/** Readings of the last minute of a segment, about one a second: what came before the end. */
public final class LastMinute {
    private static final double KEEP_SECONDS = 60;
    private static final double SPACING_SECONDS = 0.95;

    private final List<Channel> channels;
    private final Deque<Moment> moments = new ArrayDeque<>();
    private @Nullable Moment latest;

    LastMinute(List<Channel> channels) {
        this.channels = channels;
    }

    void add(double seconds, double[] values) {
        latest = new Moment(seconds, values);
        Moment last = moments.peekLast();
        if (last != null && seconds - last.seconds < SPACING_SECONDS) {
            return;
        }
        moments.add(latest);
        while (moments.peekFirst().seconds < seconds - KEEP_SECONDS) {
            moments.removeFirst();
        }
    }

    /** About as much as it keeps. */
    long bytes() {
        return (moments.size() + 1L) * (64 + (long) Double.BYTES * channels.size());
    }

    /** The channel's last answer within the minute; NaN if there was none. */
    public double last(Channel channel) {
        int index = channels.indexOf(channel);
        double value = Double.NaN;
        for (Moment m : moments) {
            value = Double.isNaN(m.values[index]) ? value : m.values[index];
        }
        return latest == null || Double.isNaN(latest.values[index]) ? value : latest.values[index];
    }

    /** The channel's highest answer within the minute; NaN if there was none. */
    public double highest(Channel channel) {
        int index = channels.indexOf(channel);
        // The very last moment may lie too close behind the one before to be among them.
        return Stream.concat(moments.stream(), Stream.ofNullable(latest))
                .mapToDouble(m -> m.values[index])
                .filter(v -> !Double.isNaN(v))
                .max()
                .orElse(Double.NaN);
    }

    /** Last answer minus first answer within the minute; NaN if there were none. */
    public double change(Channel channel) {
        int index = channels.indexOf(channel);
        double first = Double.NaN;
        for (Moment m : moments) {
            if (!Double.isNaN(m.values[index])) {
                first = m.values[index];
                break;
            }
        }
        return last(channel) - first;
    }

    /**
     * Readings of the last minute: the very last sample, and of those before it the one nearest to each of the given
     * times before it, each once; the oldest first.
     */
    public List<Reading> readings(double... secondsBefore) {
        if (latest == null) {
            return List.of();
        }
        double end = latest.seconds;
        TreeMap<Double, Moment> chosen = new TreeMap<>();
        chosen.put(end, latest);
        for (double before : secondsBefore) {
            double wanted = end - before;
            moments.stream()
                    .filter(m -> Math.abs(m.seconds - wanted) <= SPACING_SECONDS)
                    .min(Comparator.comparingDouble(m -> Math.abs(m.seconds - wanted)))
                    .ifPresent(m -> chosen.put(m.seconds, m));
        }
        return chosen.values().stream()
                .map(m -> new Reading(m.seconds, m.seconds - end, channels, m.values))
                .toList();
    }

    /**
     * Growth per second of a channel by least squares over the minute; NaN with fewer than three answers, or where they
     * span less than {@code leastSeconds}.
     */
    public double slope(Channel channel, double leastSeconds) {
        int index = channels.indexOf(channel);
        List<Moment> answered =
                moments.stream().filter(m -> !Double.isNaN(m.values[index])).toList();
        if (answered.size() < 3 || answered.get(answered.size() - 1).seconds - answered.get(0).seconds < leastSeconds) {
            return Double.NaN;
        }
        double meanSeconds =
                answered.stream().mapToDouble(m -> m.seconds).average().orElseThrow();
        double mean =
                answered.stream().mapToDouble(m -> m.values[index]).average().orElseThrow();
        double both = 0;
        double square = 0;
        for (Moment m : answered) {
            both += (m.seconds - meanSeconds) * (m.values[index] - mean);
            square += (m.seconds - meanSeconds) * (m.seconds - meanSeconds);
        }
        return both / square;
    }

    /** One sample of the minute. */
    public static final class Reading {
        private final double seconds;
        private final double relative;
        private final List<Channel> channels;
        private final double[] values;

        private Reading(double seconds, double relative, List<Channel> channels, double[] values) {
            this.seconds = seconds;
            this.relative = relative;
            this.channels = channels;
            this.values = values;
        }

        /** Since the start of the segment. */
        public double seconds() {
            return seconds;
        }

        /** Seconds after the last sample: 0 or negative. */
        public double relativeSeconds() {
            return relative;
        }

        /** NaN where it was not read. */
        public double value(Channel channel) {
            return values[channels.indexOf(channel)];
        }
    }

    public List<Channel> channels(Role role, Metric metric) {
        return channels.stream().filter(c -> c.is(role, metric)).toList();
    }

    @SuppressWarnings("ArrayRecordComponent") // a private pair, never compared
    private record Moment(double seconds, double[] values) {}
}
