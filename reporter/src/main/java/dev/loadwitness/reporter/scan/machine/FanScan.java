// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.FanPlace;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/** Follows every fan and the chips that they cool. */
public final class FanScan implements Follower {
    private final double hotCelsius;
    private final Map<String, One> fans = new LinkedHashMap<>();
    /** The parts whose chip has a temperature, and its highest at this sample; NaN where none answered. */
    private List<Role> parts = List.of();

    private double[] hottest = {};
    /** By channel, the place among the parts of the one whose chip it tells of; -1 for the others. */
    private int[] chips = {};

    public FanScan(double hotCelsius) {
        this.hotCelsius = hotCelsius;
    }

    @Override
    public void table(ChannelTable now) {
        List<Channel> table = now.channels();
        List<Optional<Role>> byChannel = table.stream()
                .map(c -> c.isOfTheChip(table) ? FanPlace.chip(c) : Optional.<Role>empty())
                .toList();
        parts = byChannel.stream().flatMap(Optional::stream).distinct().toList();
        hottest = new double[parts.size()];
        chips = byChannel.stream()
                .mapToInt(chip -> chip.map(parts::indexOf).orElse(-1))
                .toArray();
        fans.values().forEach(One::forget);
        for (int i = 0; i < table.size(); i++) {
            Channel c = table.get(i);
            if (c.is(Role.FAN, Metric.FAN_SPEED)) {
                One fan = fans.computeIfAbsent(c.id(), id -> new One(c));
                fan.index = i;
                fan.chip = fan.cools.map(parts::indexOf).orElse(-1);
            }
        }
    }

    @Override
    public void step(Step step) {
        double[] values = step.values();
        if (fans.isEmpty()) {
            return;
        }
        Arrays.fill(hottest, Double.NaN);
        for (int i = 0; i < chips.length; i++) {
            if (chips[i] >= 0) {
                hottest[chips[i]] = higher(hottest[chips[i]], values[i]);
            }
        }
        double least = Double.NaN;
        double most = Double.NaN;
        for (double celsius : hottest) {
            if (!Double.isNaN(celsius)) {
                least = celsius >= least ? least : celsius;
                most = higher(most, celsius);
            }
        }
        for (One fan : fans.values()) {
            if (fan.index >= 0) {
                boolean says = fan.cools.isPresent();
                double own = !says ? least : fan.chip < 0 ? Double.NaN : hottest[fan.chip];
                fan.add(step.at(), values[fan.index], own, says ? Double.NaN : most, step.seconds());
            }
        }
    }

    /** Of two, one of which may not have been read. */
    private static double higher(double a, double b) {
        return b <= a || Double.isNaN(b) ? a : b;
    }

    public List<FanTally> finish() {
        return fans.values().stream().map(One::finish).toList();
    }

    /** The longest of the stretches in which something held. */
    private static final class Longest {
        private @Nullable At begin;
        private double seconds;
        private double celsius;
        private FanTally.Stretch longest = FanTally.Stretch.NONE;

        void add(boolean holds, At at, double passed, double degrees) {
            if (!holds) {
                begin = null;
                return;
            }
            if (begin == null) {
                begin = at;
                seconds = 0;
                celsius = degrees;
            } else {
                seconds += passed;
                celsius = Math.max(celsius, degrees);
            }
            if (longest.begin() == null || seconds > longest.seconds()) {
                longest = new FanTally.Stretch(begin, seconds, celsius);
            }
        }
    }

    private final class One {
        private final Channel channel;
        private final Optional<Role> cools;
        private int index = -1;
        private int chip = -1;
        private double highestRpm = Double.NaN;
        private double hotSeconds;
        private final Longest still = new Longest();
        private final Longest stillOther = new Longest();
        private final Longest silent = new Longest();
        private final Longest neverTurned = new Longest();

        One(Channel channel) {
            this.channel = channel;
            this.cools = FanPlace.cools(channel);
        }

        void forget() {
            index = -1;
            for (Longest l : List.of(still, stillOther, silent, neverTurned)) {
                l.begin = null;
            }
        }

        void add(At at, double rpm, double own, double other, double seconds) {
            highestRpm = rpm <= highestRpm || Double.isNaN(rpm) ? highestRpm : rpm;
            boolean turned = highestRpm > 0;
            boolean hot = own >= hotCelsius;
            boolean stands = rpm <= 0;
            hotSeconds += hot ? seconds : 0;
            still.add(turned && stands && hot, at, seconds, own);
            stillOther.add(turned && stands && !hot && other >= hotCelsius, at, seconds, other);
            silent.add(turned && Double.isNaN(rpm) && hot, at, seconds, own);
            neverTurned.add(!turned && stands && hot, at, seconds, own);
        }

        FanTally finish() {
            return new FanTally(
                    channel,
                    cools,
                    highestRpm,
                    hotSeconds,
                    still.longest,
                    stillOther.longest,
                    silent.longest,
                    neverTurned.longest);
        }
    }
}
