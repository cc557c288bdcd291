// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;
import org.jspecify.annotations.Nullable;

/** Follows what the kernel says of each part's sleep. */
public final class AwakeScan implements Follower {
    private final Map<Role, One> parts = new EnumMap<>(Role.class);
    private List<Channel> table = List.of();
    private int[] places = {};

    private static final class One {
        private long readings;
        private long unread;
        private @Nullable At firstAwake;
    }

    @Override
    public void table(ChannelTable now) {
        table = now.channels();
        places = now.places(c -> c.measures(Metric.DEVICE_AWAKE));
    }

    @Override
    public void step(Step step) {
        for (int place : places) {
            One part = parts.computeIfAbsent(table.get(place).role(), role -> new One());
            if (Double.isNaN(step.values()[place])) {
                part.unread++;
                continue;
            }
            part.readings++;
            if (step.values()[place] != 0 && part.firstAwake == null) {
                part.firstAwake = step.at();
            }
        }
    }

    public List<AwakeTally> finish() {
        return parts.entrySet().stream()
                .map(e ->
                        new AwakeTally(e.getKey(), e.getValue().readings, e.getValue().unread, e.getValue().firstAwake))
                .toList();
    }
}
