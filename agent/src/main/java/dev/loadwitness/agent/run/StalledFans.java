// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.FanPlace;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.Arrays;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.TimeUnit;

/**
 * Finds a fan that turned and now stands still while what it cools is hot. The reporter judges fans by the procedure's
 * numbers; these here are for safety only, and slower to act.
 */
final class StalledFans {
    /** At this temperature every laptop's fans turn (common practice, no source). */
    private static final double HOT_CELSIUS = 80;

    /** A fan that stood still while it was cold takes seconds to start (common practice, no source). */
    private static final long STILL_NANOS = TimeUnit.SECONDS.toNanos(20);

    private final List<Channel> channels;
    private final List<Optional<Role>> chips;
    private final boolean[] turned;
    private final long[] stillSinceNanos;

    StalledFans(List<Channel> channels) {
        this.channels = channels;
        chips = channels.stream()
                .map(c -> c.isOfTheChip(channels) ? FanPlace.chip(c) : Optional.<Role>empty())
                .toList();
        turned = new boolean[channels.size()];
        stillSinceNanos = new long[channels.size()];
        Arrays.fill(stillSinceNanos, -1);
    }

    Optional<Guard.Stop> look(long nowNanos, double[] values) {
        Map<Role, Double> hottest = hottest(values);
        Optional<Guard.Stop> stop = Optional.empty();
        for (int i = 0; i < turned.length; i++) {
            Channel fan = channels.get(i);
            if (!fan.is(Role.FAN, Metric.FAN_SPEED)) {
                continue;
            }
            turned[i] |= values[i] > 0;
            double celsius = cooled(fan, hottest);
            // A fan that does not answer may turn: that is for those who guard the temperature.
            if (!turned[i] || !(values[i] <= 0) || !(celsius >= HOT_CELSIUS)) {
                stillSinceNanos[i] = -1;
                continue;
            }
            if (stillSinceNanos[i] < 0) {
                stillSinceNanos[i] = nowNanos;
            }
            if (stop.isEmpty() && nowNanos - stillSinceNanos[i] >= STILL_NANOS) {
                stop = Optional.of(new Guard.Stop(
                        Role.FAN, "fan", fan.id() + " stands still while what it cools is at " + celsius + " °C"));
            }
        }
        return stop;
    }

    private Map<Role, Double> hottest(double[] values) {
        Map<Role, Double> hottest = new EnumMap<>(Role.class);
        for (int i = 0; i < turned.length; i++) {
            Optional<Role> chip = chips.get(i);
            if (chip.isPresent() && !Double.isNaN(values[i])) {
                hottest.merge(chip.get(), values[i], Math::max);
            }
        }
        return hottest;
    }

    /** Of a fan that does not say what it cools, the coolest chip: it may be meant for that one. NaN if none is read. */
    private static double cooled(Channel fan, Map<Role, Double> hottest) {
        Optional<Role> chip = FanPlace.cools(fan);
        if (chip.isPresent()) {
            return hottest.getOrDefault(chip.get(), Double.NaN);
        }
        return hottest.values().stream().mapToDouble(v -> v).min().orElse(Double.NaN);
    }
}
