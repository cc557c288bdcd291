// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;

/** Follows the highest power limit of each part while on mains. */
public final class LimitScan implements Follower {
    private final Map<Role, Double> highestWatts = new EnumMap<>(Role.class);
    private ChannelTable table = ChannelTable.NONE;
    private int[] limits = {};

    @Override
    public void table(ChannelTable now) {
        table = now;
        limits = now.places(c -> c.measures(Metric.POWER_LIMIT));
    }

    @Override
    public void step(Step step) {
        if (!step.onMains()) {
            return;
        }
        for (int place : limits) {
            double watts = step.values()[place];
            if (!Double.isNaN(watts)) {
                highestWatts.merge(table.channels().get(place).role(), watts, Math::max);
            }
        }
    }

    public List<PowerLimitTally> finish() {
        return highestWatts.entrySet().stream()
                .map(e -> new PowerLimitTally(e.getKey(), e.getValue()))
                .toList();
    }
}
