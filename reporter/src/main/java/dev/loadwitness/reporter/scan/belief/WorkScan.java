// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.belief;

import dev.loadwitness.reporter.scan.follow.Counters;
import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.Arrays;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;

/** Follows what our own loads did, by part, over the whole run. */
public final class WorkScan implements Follower {
    private final Map<Role, One> parts = new EnumMap<>(Role.class);
    private int[] works = {};
    private One[] working = {};
    private int[] errors = {};
    private One[] erring = {};

    /** NaN where nothing was read. */
    private static final class One {
        private double verified = Double.NaN;
        private double wrong = Double.NaN;
        private boolean atWork;
    }

    @Override
    public void table(ChannelTable table) {
        works = table.places(c -> c.measures(Metric.WORK_VERIFIED));
        working = partsOf(works, table);
        errors = table.places(c -> c.measures(Metric.WORK_ERRORS));
        erring = partsOf(errors, table);
        parts.values().forEach(part -> part.atWork = false);
    }

    private One[] partsOf(int[] places, ChannelTable table) {
        return Arrays.stream(places)
                .mapToObj(place -> table.channels().get(place).role())
                .map(role -> parts.computeIfAbsent(role, r -> new One()))
                .toArray(One[]::new);
    }

    /** Comes before {@link #step}: whether a part is at work decides what of its sensors can be believed. */
    public void work(Counters counters) {
        for (One part : working) {
            part.atWork = false;
        }
        for (int i = 0; i < works.length; i++) {
            double units = counters.increase(works[i]);
            working[i].atWork |= units > 0;
            working[i].verified = plus(working[i].verified, units);
        }
    }

    boolean isAtWork(Role role) {
        One part = parts.get(role);
        return part != null && part.atWork;
    }

    @Override
    public void step(Step step) {
        for (int i = 0; i < errors.length; i++) {
            if (!Double.isNaN(step.values()[errors[i]])) {
                erring[i].wrong = plus(erring[i].wrong, step.counters().increase(errors[i]));
            }
        }
    }

    public List<WorkTally> finish() {
        return parts.entrySet().stream()
                .filter(e -> !Double.isNaN(e.getValue().verified))
                .map(e -> new WorkTally(e.getKey(), e.getValue().verified, e.getValue().wrong))
                .toList();
    }

    public static double plus(double sum, double value) {
        return Double.isNaN(sum) ? value : sum + value;
    }
}
