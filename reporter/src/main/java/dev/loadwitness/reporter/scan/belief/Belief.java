// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.belief;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Metric;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Stream;

/** What cannot be believed is left out here, once, so that no follower has to look for it. */
public final class Belief {
    private final Map<String, ScaleScan> scales = new LinkedHashMap<>();
    private final Map<String, SensorScan> sensors = new LinkedHashMap<>();
    private List<ScaleScan> scaleOf = List.of();
    private List<Watched> watched = List.of();

    private record Watched(int place, Channel channel, int power, SensorScan sensor) {}

    public void table(ChannelTable table) {
        List<Channel> channels = table.channels();
        scaleOf = channels.stream()
                .map(c -> scales.computeIfAbsent(c.id(), id -> new ScaleScan(c)))
                .toList();
        watched = Arrays.stream(table.places(SensorScan::watches))
                .mapToObj(place -> watched(table, place))
                .toList();
    }

    private Watched watched(ChannelTable table, int place) {
        Channel c = table.channels().get(place);
        SensorScan sensor = sensors.computeIfAbsent(c.id(), id -> new SensorScan(c));
        return new Watched(place, c, table.find(c.role(), Metric.POWER), sensor);
    }

    /** The same readings without those beyond all scales. */
    public double[] toScale(At at, double[] given) {
        double[] values = given;
        for (int place = 0; place < given.length; place++) {
            values = without(values, given, place, scaleOf.get(place).add(at, given[place]));
        }
        return values;
    }

    /** The same readings without those that cannot be. */
    public double[] believed(At at, double[] read, double seconds, WorkScan work) {
        double[] values = read;
        for (Watched w : watched) {
            double watts = w.power < 0 ? Double.NaN : read[w.power];
            boolean atWork = work.isAtWork(w.channel.role());
            values = without(values, read, w.place, w.sensor.add(at, read[w.place], seconds, atWork, watts));
        }
        return values;
    }

    /** Copied only when something is left out, which is rare. */
    private static double[] without(double[] values, double[] given, int place, double believed) {
        if (!Double.isNaN(believed) || Double.isNaN(given[place])) {
            return values;
        }
        double[] copy = values == given ? given.clone() : values;
        copy[place] = Double.NaN;
        return copy;
    }

    public List<SensorFault> finish() {
        return Stream.concat(
                        scales.values().stream().map(ScaleScan::finish),
                        sensors.values().stream().map(SensorScan::finish))
                .flatMap(Optional::stream)
                .toList();
    }
}
