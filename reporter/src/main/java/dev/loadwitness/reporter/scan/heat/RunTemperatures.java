// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.heat;

import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Metric;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/** Follows every temperature through the whole run. */
public final class RunTemperatures implements Follower {
    private final double blockSeconds;
    private final double periodSeconds;
    private final Map<String, TemperatureScan> scans = new LinkedHashMap<>();
    private int[] places = {};
    private TemperatureScan[] here = {};

    /** @param blockSeconds length of the means by which the run is judged */
    public RunTemperatures(double blockSeconds, double periodSeconds) {
        this.blockSeconds = blockSeconds;
        this.periodSeconds = periodSeconds;
    }

    @Override
    public void table(ChannelTable table) {
        places = table.places(c -> c.measures(Metric.TEMPERATURE));
        here = Arrays.stream(places)
                .mapToObj(table.channels()::get)
                .map(c -> scans.computeIfAbsent(c.id(), id -> new TemperatureScan(c, blockSeconds, periodSeconds)))
                .toArray(TemperatureScan[]::new);
    }

    @Override
    public void step(Step step) {
        for (int i = 0; i < places.length; i++) {
            here[i].add(step.at(), step.values()[places[i]]);
        }
    }

    public List<TemperatureTally> finish() {
        return scans.values().stream().map(TemperatureScan::finish).toList();
    }
}
