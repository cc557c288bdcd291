// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.heat;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Room;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/** Follows what makes and moves heat through one stage, in bins that double in length when {@link #MOST_BINS} are full. */
public final class ThermalScan implements Follower {
    /** At a bin a second nine hours, and bins of eight seconds in three days: windows of minutes keep some tens of them. */
    public static final int MOST_BINS = 32_768;

    private static final int FIRST_BINS = 64;

    private final double beginSeconds;
    private double binSeconds;
    private int used;
    private final Room room;
    private final Map<String, Line> lines = new LinkedHashMap<>();
    private final List<Lane> lanes = new ArrayList<>();

    public ThermalScan(At begin, double periodSeconds, Room room) {
        this.room = room;
        this.beginSeconds = begin.seconds();
        // Two samples a bin at least, so that jitter leaves none empty.
        this.binSeconds = Math.max(1, 2 * periodSeconds);
    }

    /** Where something that makes or moves heat stands in a sample; {@code counter} if it counts joules. */
    private record Lane(int place, boolean counter, Line line) {}

    /** The chip's temperature and the power of each part that works, and every fan. */
    @Override
    public void table(ChannelTable table) {
        lanes.clear();
        for (Role role : List.of(Role.CPU, Role.GPU_DISCRETE, Role.GPU_INTEGRATED)) {
            int joules = table.find(role, Metric.ENERGY);
            // A graphics part's first temperature is that of its chip, a processor's that of its package.
            lane(table, table.find(role, Metric.TEMPERATURE), false);
            lane(table, joules >= 0 ? joules : table.find(role, Metric.POWER), joules >= 0);
        }
        for (int place : table.places(ThermalTally.Line::isFan)) {
            lane(table, place, false);
        }
    }

    private void lane(ChannelTable table, int place, boolean counter) {
        if (place >= 0) {
            lanes.add(new Lane(place, counter, line(table.channels().get(place))));
        }
    }

    /** The line of a channel: the same one after a new channel table. */
    public Line line(Channel channel) {
        return lines.computeIfAbsent(channel.id(), id -> new Line(channel, room));
    }

    @Override
    public void step(Step step) {
        if (lanes.isEmpty()) {
            return;
        }
        double seconds = step.at().seconds();
        int bin = bin(seconds);
        for (Lane lane : lanes) {
            double value = step.values()[lane.place];
            if (lane.counter) {
                lane.line.counted(bin, seconds, value, step.counters().increase(lane.place));
            } else {
                lane.line.read(bin, value);
            }
        }
    }

    /** The bin of a moment; all lines have the same bins. */
    public int bin(double seconds) {
        int bin = (int) Math.max(0, (seconds - beginSeconds) / binSeconds);
        while (bin >= MOST_BINS) {
            lines.values().forEach(Line::halve);
            used = (used + 1) / 2;
            binSeconds *= 2;
            bin = (int) ((seconds - beginSeconds) / binSeconds);
        }
        used = Math.max(used, bin + 1);
        return bin;
    }

    public ThermalTally finish() {
        lines.values().forEach(line -> room.take((long) Double.BYTES * used - line.bytes()));
        List<ThermalTally.Line> finished = lines.values().stream()
                .map(line -> new ThermalTally.Line(line.channel, line.means(used)))
                .toList();
        return new ThermalTally(binSeconds, used, finished);
    }

    /** One channel: means weighted by time for power, by count for what is read. */
    static final class Line {
        private final Channel channel;
        private final Room room;
        private double[] sum = new double[FIRST_BINS];
        private double[] weight = new double[FIRST_BINS];
        private double lastAt = Double.NaN;

        Line(Channel channel, Room room) {
            this.channel = channel;
            this.room = room;
            room.take(bytes());
        }

        private long bytes() {
            return 2L * Double.BYTES * sum.length;
        }

        void read(int bin, double value) {
            if (!Double.isNaN(value)) {
                makeRoom(bin);
                sum[bin] += value;
                weight[bin]++;
            }
        }

        /** A counter of energy: the joules since it was last read belong to the time since then. */
        void counted(int bin, double seconds, double value, double joules) {
            if (Double.isNaN(value)) {
                return;
            }
            if (seconds > lastAt) {
                makeRoom(bin);
                sum[bin] += joules;
                weight[bin] += seconds - lastAt;
            }
            lastAt = seconds;
        }

        private void makeRoom(int bin) {
            if (bin >= sum.length) {
                int length = 2 * Integer.highestOneBit(bin);
                room.take(2L * Double.BYTES * (length - sum.length));
                sum = Arrays.copyOf(sum, length);
                weight = Arrays.copyOf(weight, length);
            }
        }

        private void halve() {
            int half = sum.length / 2;
            for (int i = 0; i < half; i++) {
                sum[i] = sum[2 * i] + sum[2 * i + 1];
                weight[i] = weight[2 * i] + weight[2 * i + 1];
            }
            Arrays.fill(sum, half, sum.length, 0);
            Arrays.fill(weight, half, weight.length, 0);
        }

        private double[] means(int used) {
            double[] means = new double[used];
            Arrays.fill(means, Double.NaN);
            for (int i = 0; i < Math.min(used, sum.length); i++) {
                means[i] = weight[i] > 0 ? sum[i] / weight[i] : Double.NaN;
            }
            return means;
        }
    }
}
