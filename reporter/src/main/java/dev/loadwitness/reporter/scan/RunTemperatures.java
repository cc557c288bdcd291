// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Metric;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/** Follows every temperature through the whole run. */
final class RunTemperatures implements Follower {
    private final double blockSeconds;
    private final double periodSeconds;
    private final Map<String, TemperatureScan> scans = new LinkedHashMap<>();
    private int[] places = {};
    private TemperatureScan[] here = {};
    private double[] celsius = {};
    private List<Channel> channels = List.of();

    /** @param blockSeconds length of the means by which the run is judged */
    RunTemperatures(double blockSeconds, double periodSeconds) {
        this.blockSeconds = blockSeconds;
        this.periodSeconds = periodSeconds;
    }

    @Override
    public void table(ChannelTable table) {
        channels = table.channels();
        places = table.places(c -> c.measures(Metric.TEMPERATURE));
        here = Arrays.stream(places)
                .mapToObj(channels::get)
                .map(c -> scans.computeIfAbsent(c.id(), id -> new TemperatureScan(c, blockSeconds, periodSeconds)))
                .toArray(TemperatureScan[]::new);
        celsius = new double[places.length];
        Arrays.fill(celsius, Double.NaN);
    }

    @Override
    public void step(Step step) {
        for (int i = 0; i < places.length; i++) {
            celsius[i] = step.values()[places[i]];
            here[i].add(step.at(), celsius[i]);
        }
    }

    /** The last sample's, by channel. */
    Map<String, Double> last() {
        Map<String, Double> last = new LinkedHashMap<>();
        for (int i = 0; i < places.length; i++) {
            if (!Double.isNaN(celsius[i])) {
                last.put(channels.get(places[i]).id(), celsius[i]);
            }
        }
        return last;
    }

    List<TemperatureTally> finish() {
        return scans.values().stream().map(TemperatureScan::finish).toList();
    }
}
