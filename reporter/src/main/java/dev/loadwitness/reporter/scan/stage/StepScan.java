// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import static dev.loadwitness.runlog.procedure.Parameters.LoadSteps.EDGE_SHARE;
import static dev.loadwitness.runlog.procedure.Parameters.LoadSteps.EDGE_TIME;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.Procedure;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * Follows the edges of load steps. Edge {@code i} of a record is due at {@code ⌊i/2⌋·period}, plus {@code duty·period} if
 * {@code i} is odd, after the record's first one. Records of one rate that follow each other are a block, whose number of
 * edges must fit its time.
 */
final class StepScan {
    private static final int MOST_LEVELS = 1000;
    private static final int MOST_RATES = 1000;
    private static final double MICROSECONDS = 1e6;

    private final Tolerance tolerance;
    private final List<StepTally.Level> levels = new ArrayList<>();
    private final List<StepTally.Rate> rates = new ArrayList<>();
    private int unreadable;
    private StepTally.@Nullable Edges told;

    private @Nullable Block block;

    /** How far an edge may be from its moment: a share of its period, or a time if that is more. */
    private record Tolerance(double share, double seconds) {
        static Tolerance of(Procedure procedure) {
            CriterionSetting setting = procedure.settingOrDefaults(Criterion.LOAD_STEPS);
            return new Tolerance(setting.share(EDGE_SHARE), setting.seconds(EDGE_TIME));
        }

        double of(double periodSeconds) {
            return Math.max(seconds, share * periodSeconds);
        }
    }

    StepScan(Procedure judgedBy) {
        this.tolerance = Tolerance.of(judgedBy);
    }

    void level(At at, Event event) {
        if (levels.size() < MOST_LEVELS) {
            levels.add(new StepTally.Level(at, event.number("level"), event.number("seconds")));
        }
    }

    void edges(At at, Event event) {
        double period = event.number("period");
        double duty = event.number("duty");
        double since = event.number("since");
        double[] seconds = seconds(event.text("edges"));
        if (!(period > 0 && duty > 0 && duty < 1) || Double.isNaN(since) || seconds.length == 0) {
            unreadable++;
            return;
        }
        if (block == null || block.period != period || block.duty != duty || since < block.first) {
            closeBlock();
            block = new Block(at, period, duty, since);
        }
        block.add(since, seconds, tolerance.of(period));
        told = new StepTally.Edges(at, period, duty, seconds.length % 2 == 1);
    }

    /** Empty if it is no list of whole numbers that never falls. */
    private static double[] seconds(String text) {
        String[] parts = text.split(",", -1);
        double[] seconds = new double[parts.length];
        long before = Long.MIN_VALUE;
        for (int i = 0; i < parts.length; i++) {
            long value;
            try {
                value = Long.parseLong(parts[i].strip());
            } catch (NumberFormatException e) {
                return new double[0];
            }
            if (value < before) {
                return new double[0];
            }
            before = value;
            seconds[i] = value / MICROSECONDS;
        }
        return seconds;
    }

    private void closeBlock() {
        if (block != null && rates.size() < MOST_RATES) {
            StepTally.Rate.into(rates, block.finish());
        }
        block = null;
    }

    StepTally finish() {
        closeBlock();
        return new StepTally(levels, rates, unreadable, Optional.ofNullable(told));
    }

    private static final class Block {
        private final At at;
        private final double period;
        private final double duty;
        private final double first;
        private double last;
        private long edges;
        private long late;
        private double worst;

        Block(At at, double period, double duty, double first) {
            this.at = at;
            this.period = period;
            this.duty = duty;
            this.first = first;
        }

        void add(double since, double[] seconds, double tolerance) {
            for (int i = 0; i < seconds.length; i++) {
                int pair = i / 2;
                double due = pair * period + (i % 2 == 1 ? duty * period : 0);
                double off = Math.abs(seconds[i] - (seconds[0] + due));
                worst = Math.max(worst, off);
                late += off > tolerance ? 1 : 0;
            }
            edges += seconds.length;
            last = since + seconds[seconds.length - 1] - seconds[0];
        }

        StepTally.Rate finish() {
            double span = last - first;
            long whole = (long) Math.floor(span / period);
            double rest = span / period - whole;
            // The last edge was the on that began this period, its off, or the on of the next: whichever is nearest.
            long due = 2 * whole + (rest < duty / 2 ? 1 : rest < (1 + duty) / 2 ? 2 : 3);
            return new StepTally.Rate(at, period, duty, edges, Math.max(0, due - edges), late, worst, span);
        }
    }
}
