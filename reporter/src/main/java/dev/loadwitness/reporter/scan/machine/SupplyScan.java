// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Ask;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import org.jspecify.annotations.Nullable;

/** Follows the adapter and each battery. */
public final class SupplyScan implements Follower {
    private static final double ASSUMED_STEP = 0.01;
    private static final int MOST_STRETCHES = 10_000;

    /** A smaller difference of two shares is rounding of the log's numbers. */
    private static final double SAME = 1e-9;

    private final Map<String, BatteryScan> batteries = new LinkedHashMap<>();
    private int adapter = -1;
    private boolean answered;
    private boolean fed;
    private boolean asked;
    private double before = Double.NaN;
    private boolean away;
    private long drops;
    private @Nullable At firstDrop;
    private double awaySeconds;
    private long askedDrops;

    @Override
    public void table(ChannelTable now) {
        List<Channel> table = now.channels();
        adapter = now.find(Role.ADAPTER, Metric.ADAPTER_ONLINE);
        before = Double.NaN;
        away = false;
        batteries.values().forEach(BatteryScan::forget);
        for (int i = 0; i < table.size(); i++) {
            Channel c = table.get(i);
            if (c.is(Role.BATTERY, Metric.BATTERY_CHARGE)) {
                BatteryScan battery = batteries.computeIfAbsent(c.id(), id -> new BatteryScan(c));
                battery.charge = i;
                battery.start = of(table, c, Metric.BATTERY_CHARGE_START);
                battery.end = of(table, c, Metric.BATTERY_CHARGE_END);
                battery.state = of(table, c, Metric.BATTERY_STATE);
                battery.power = of(table, c, Metric.BATTERY_POWER);
            }
        }
    }

    /** The channel of the same battery. */
    private static int of(List<Channel> table, Channel charge, Metric metric) {
        for (int i = 0; i < table.size(); i++) {
            Channel c = table.get(i);
            if (c.is(Role.BATTERY, metric)
                    && c.source().equals(charge.source())
                    && c.component().equals(charge.component())) {
                return i;
            }
        }
        return -1;
    }

    @Override
    public void event(At at, EventKind kind, Event event) {
        switch (kind) {
            case OPERATOR_ASKED -> asked |= event.text("what").equals(Ask.REPLUG.word());
            case OPERATOR_DONE -> asked &= !event.text("what").equals(Ask.REPLUG.word());
            case STAGE_BEGIN -> asked = false; // whoever was asked has done it, or the run would have waited
            default -> {
                // Nothing about the adapter.
            }
        }
    }

    @Override
    public void step(Step step) {
        At at = step.at();
        double online = step.value(adapter);
        if (!Double.isNaN(online)) {
            answered = true;
            fed |= online == 1;
            if (before == 1 && online != 1) {
                if (asked) {
                    askedDrops++;
                } else {
                    drops++;
                    away = true;
                    firstDrop = firstDrop == null ? at : firstDrop;
                }
            }
            away &= online != 1;
            awaySeconds += away ? step.seconds() : 0;
            before = online;
        }
        boolean onMains = online == 1;
        batteries.values().forEach(b -> b.add(step, onMains));
    }

    public SupplyTally finish() {
        return new SupplyTally(
                answered,
                fed,
                drops,
                firstDrop,
                awaySeconds,
                askedDrops,
                batteries.values().stream().map(BatteryScan::finish).toList());
    }

    private static final class BatteryScan {
        private final Channel channel;
        private int charge = -1;
        private int start = -1;
        private int end = -1;
        private int state = -1;
        private int power = -1;
        private double smallestStep = Double.NaN;
        private double lowestStart = Double.NaN;
        private double lowestEnd = Double.NaN;
        private double last = Double.NaN;
        /** One for each time that it came back on mains in a stage: so many are kept, for none can be charged by then. */
        private final List<SupplyTally.InStage> stages = new ArrayList<>();

        private int stage = -1;
        private double first;
        private double lowest;
        private double firstSeconds;
        private double lastSeconds;
        private boolean charging;

        BatteryScan(Channel channel) {
            this.channel = channel;
        }

        void forget() {
            close();
            charge = -1;
            start = -1;
            end = -1;
            state = -1;
            power = -1;
            last = Double.NaN;
        }

        void add(Step now, boolean onMains) {
            double share = now.value(charge);
            if (Double.isNaN(share)) {
                return;
            }
            double step = Math.abs(share - last);
            if (step > SAME && !(step >= smallestStep)) {
                smallestStep = step;
            }
            last = share;
            lowestStart = lower(lowestStart, now.value(start));
            lowestEnd = lower(lowestEnd, now.value(end));
            if (now.stageNumber() != stage || !onMains) {
                close();
            }
            if (!onMains || now.stageNumber() < 0) {
                return;
            }
            if (stage < 0) {
                stage = now.stageNumber();
                first = share;
                lowest = share;
                firstSeconds = now.at().seconds();
                charging = false;
            }
            lowest = Math.min(lowest, share);
            lastSeconds = now.at().seconds();
            lastShare = share;
            charging |= now.value(state) == 1 || now.value(power) > 0;
        }

        private double lastShare;

        private void close() {
            if (stage >= 0 && stages.size() < MOST_STRETCHES) {
                stages.add(
                        new SupplyTally.InStage(stage, first, lastShare, lowest, lastSeconds - firstSeconds, charging));
            }
            stage = -1;
        }

        SupplyTally.Battery finish() {
            close();
            double stated = channel.resolution();
            double step = Double.isNaN(smallestStep)
                    ? (Double.isNaN(stated) ? ASSUMED_STEP : stated)
                    : (Double.isNaN(stated) ? smallestStep : Math.max(stated, smallestStep));
            return new SupplyTally.Battery(channel, step, lowestStart, lowestEnd, stages);
        }

        private static double lower(double before, double now) {
            return Double.isNaN(before) || now < before ? now : before;
        }
    }
}
