// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.belief;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * Tells whether one channel of temperature or power can be believed. A single reading that cannot be is left out; a channel
 * that gives more of them, or stands still while its part's load comes or goes, is told as faulty.
 */
final class SensorScan {
    /** How long a reading must stand still on either side of a load step before it counts as stuck. */
    private static final double STUCK_SECONDS = 60;

    /** A smaller step of the part's power need not move a sensor of whole kelvins (common practice, no source). */
    private static final double LEAST_STEP_WATTS = 5;

    // Common practice, no source: no sensor in a laptop gets there on a bench.
    private static final double COLDEST_CELSIUS = -30;
    private static final double HOTTEST_CELSIUS = 150;
    /** The ends of 8-bit readings, whole, halved and in sixteenths, and zero: what is read where nothing answers. */
    private static final double[] NO_ANSWER = {0, 127, 127.5, 127.875, 127.9375, 128};

    /** A chip's own sensor follows its load by tens of kelvins within a second (common practice, no source). */
    private static final double CHIP_KELVIN_A_SECOND = 80;
    /** What has a mass of its own does not (common practice, no source). */
    private static final double OTHER_KELVIN_A_SECOND = 20;

    /** So many in a row are no stray reading: the channel has changed its level. */
    private static final int STAYED = 5;

    private static final double MOST_IMPOSSIBLE = 0.01;
    private static final int STRAY = 2;

    private final Channel channel;
    private final boolean temperature;
    private final boolean hasLoad;

    private long readings;
    private double last = Double.NaN;
    /** Of the last reading that was believed; -1 before the first. */
    private int lastSegment = -1;
    /** When it answered last, believed or not: what was left out must not stretch the time in which a jump may be. */
    private double heardSeconds;

    private long impossible;
    private @Nullable At impossibleAt;
    private double impossibleValue;
    private int away;
    private @Nullable At awayAt;
    private double awayValue;
    private @Nullable At jumpedAt;
    private double jumpedTo;

    private double still = Double.NaN;
    private @Nullable At stillSince;
    private final Still loaded = new Still();
    private final Still idle = new Still();
    private double leastWatts = Double.POSITIVE_INFINITY;
    private double mostWatts = Double.NEGATIVE_INFINITY;
    private @Nullable At stuckSince;
    private double stuckAt;

    /** Time in which the reading stood still, and the power of the part meanwhile. */
    private static final class Still {
        private double seconds;
        private double joules;
        private double powerSeconds;

        void add(double duration, double watts) {
            seconds += duration;
            if (!Double.isNaN(watts)) {
                joules += watts * duration;
                powerSeconds += duration;
            }
        }

        void clear() {
            seconds = 0;
            joules = 0;
            powerSeconds = 0;
        }
    }

    SensorScan(Channel channel) {
        this.channel = channel;
        this.temperature = channel.measures(Metric.TEMPERATURE);
        // Others need not move with the load: a battery hardly warms, a board is nearly as warm as the room.
        this.hasLoad = channel.role() == Role.CPU
                || channel.role() == Role.GPU_DISCRETE
                || channel.role() == Role.GPU_INTEGRATED;
    }

    /** Whether anything can be told about such a channel. */
    static boolean watches(Channel channel) {
        String metric = channel.metric().name();
        return metric.equals(Metric.TEMPERATURE.name()) || metric.equals(Metric.POWER.name());
    }

    /**
     * One reading; gives it back if it can be believed, else NaN.
     *
     * @param seconds since the sample before
     * @param atWork whether our load did work on the channel's part since then
     * @param watts power of the part, NaN if it is not read
     */
    double add(At at, double value, double seconds, boolean atWork, double watts) {
        if (Double.isNaN(value)) {
            return value;
        }
        readings++;
        boolean believed = !temperature || believable(at, value);
        heardSeconds = at.seconds();
        if (!believed) {
            return Double.NaN;
        }
        last = value;
        lastSegment = at.segment();
        if (hasLoad) {
            stillness(at, value, seconds, atWork, watts);
        }
        return value;
    }

    private boolean believable(At at, double value) {
        if (value <= COLDEST_CELSIUS || value >= HOTTEST_CELSIUS || isNoAnswer(value)) {
            reject(at, value);
            return false;
        }
        if (at.segment() != lastSegment) {
            return true;
        }
        double fastest =
                (hasLoad ? CHIP_KELVIN_A_SECOND : OTHER_KELVIN_A_SECOND) * Math.max(1, at.seconds() - heardSeconds);
        if (Math.abs(value - last) <= fastest) {
            away = 0;
            return true;
        }
        if (away == 0) {
            awayAt = at;
            awayValue = value;
        }
        away++;
        if (away < STAYED) {
            reject(at, value);
            return false;
        }
        if (jumpedAt == null) {
            jumpedAt = awayAt;
            jumpedTo = awayValue;
        }
        away = 0;
        return true;
    }

    private static boolean isNoAnswer(double value) {
        for (double none : NO_ANSWER) {
            if (value == none) {
                return true;
            }
        }
        return false;
    }

    private void reject(At at, double value) {
        impossible++;
        if (impossibleAt == null) {
            impossibleAt = at;
            impossibleValue = value;
        }
    }

    private void stillness(At at, double value, double seconds, boolean atWork, double watts) {
        if (watts < leastWatts) {
            leastWatts = watts;
        }
        if (watts > mostWatts) {
            mostWatts = watts;
        }
        if (value != still || stillSince == null || at.segment() != stillSince.segment()) {
            still = value;
            stillSince = at;
            loaded.clear();
            idle.clear();
            return;
        }
        (atWork ? loaded : idle).add(seconds, watts);
        if (stuckSince == null
                && loaded.seconds >= STUCK_SECONDS
                && idle.seconds >= STUCK_SECONDS
                && !powerStoodToo()) {
            stuckSince = stillSince;
            stuckAt = value;
        }
    }

    /** A load that hardly drew more is no step to be seen; a power that never moved at all tells nothing. */
    private boolean powerStoodToo() {
        if (!temperature || loaded.powerSeconds == 0 || idle.powerSeconds == 0 || !(mostWatts > leastWatts)) {
            return false;
        }
        double step = loaded.joules / loaded.powerSeconds - idle.joules / idle.powerSeconds;
        return Math.abs(step) < LEAST_STEP_WATTS;
    }

    Optional<SensorFault> finish() {
        if (stuckSince != null) {
            return Optional.of(new SensorFault(channel, SensorFault.Kind.STUCK, stuckSince, stuckAt, 0, readings));
        }
        if (jumpedAt != null) {
            return Optional.of(new SensorFault(channel, SensorFault.Kind.JUMPED, jumpedAt, jumpedTo, 1, readings));
        }
        if (impossibleAt != null
                && (impossible > Math.max(STRAY, MOST_IMPOSSIBLE * readings) || impossible == readings)) {
            return Optional.of(new SensorFault(
                    channel, SensorFault.Kind.IMPOSSIBLE, impossibleAt, impossibleValue, impossible, readings));
        }
        return Optional.empty();
    }
}
