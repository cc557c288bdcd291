// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.ArrayDeque;
import java.util.Deque;
import java.util.List;

/** Readings of the last minute of a segment, about one a second: what came before the end. */
public final class LastMinute {
    private static final double KEEP_SECONDS = 60;
    private static final double SPACING_SECONDS = 0.95;

    private final List<Channel> channels;
    private final Deque<Moment> moments = new ArrayDeque<>();

    LastMinute(List<Channel> channels) {
        this.channels = channels;
    }

    void add(double seconds, double[] values) {
        Moment last = moments.peekLast();
        if (last != null && seconds - last.seconds < SPACING_SECONDS) {
            return;
        }
        moments.add(new Moment(seconds, values));
        while (moments.peekFirst().seconds < seconds - KEEP_SECONDS) {
            moments.removeFirst();
        }
    }

    /** The channel's last answer within the minute; NaN if there was none. */
    public double last(Channel channel) {
        int index = channels.indexOf(channel);
        double value = Double.NaN;
        for (Moment m : moments) {
            value = Double.isNaN(m.values[index]) ? value : m.values[index];
        }
        return value;
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

    public List<Channel> channels(Role role, Metric metric) {
        return channels.stream().filter(c -> c.is(role, metric)).toList();
    }

    @SuppressWarnings("ArrayRecordComponent") // a private pair, never compared
    private record Moment(double seconds, double[] values) {}
}
