// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Metric;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import org.jspecify.annotations.Nullable;

/** Follows each counter of errors that the platform reports. */
public final class ErrorScan implements Follower {
    private final Map<String, One> counters = new LinkedHashMap<>();
    private int[] places = {};
    private One[] here = {};

    @Override
    public void table(ChannelTable table) {
        places = table.places(c -> c.measures(Metric.HARDWARE_ERRORS)
                || c.measures(Metric.CORRECTED_ERRORS)
                || c.measures(Metric.PCIE_REPLAYS));
        here = Arrays.stream(places)
                .mapToObj(table.channels()::get)
                .map(channel -> counters.computeIfAbsent(channel.id(), id -> new One(channel)))
                .toArray(One[]::new);
    }

    @Override
    public void step(Step step) {
        for (int i = 0; i < places.length; i++) {
            if (!Double.isNaN(step.values()[places[i]])) {
                here[i].add(step, step.counters().increase(places[i]));
            }
        }
    }

    public List<ErrorTally> finish() {
        return counters.values().stream().map(One::finish).toList();
    }

    private static final class One {
        private final Channel channel;
        private boolean answered;
        private double loaded;
        private double loadedSeconds;
        private double idle;
        private double idleSeconds;
        private double total;
        private @Nullable At first;

        One(Channel channel) {
            this.channel = channel;
        }

        void add(Step step, double increase) {
            answered = true;
            total += increase;
            first = first == null && increase > 0 ? step.at() : first;
            if (step.stage() != null && step.stage().loads().isEmpty()) {
                idle += increase;
                idleSeconds += step.seconds();
            } else if (step.stage() != null) {
                loaded += increase;
                loadedSeconds += step.seconds();
            }
        }

        ErrorTally finish() {
            return new ErrorTally(channel, answered, loaded, loadedSeconds, idle, idleSeconds, total, first);
        }
    }
}
