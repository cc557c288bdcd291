// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import dev.loadwitness.reporter.scan.heat.ThermalTally;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.statistics.Slope;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.Comparator;
import java.util.List;

/** Means over equal pieces of a stage's last part. */
record BlockMeans(List<Double> at, List<Double> means, double blockSeconds) {
    private static final int MOST_BLOCKS = 60;
    private static final double SETTLE_SECONDS = 60;
    private static final double SETTLE_SHARE = 0.1;

    /**
     * A part of a stage.
     *
     * @param from seconds since the stage's begin
     * @param cycles whole cycles of a fan in it; 0 if none told of any
     */
    record Window(double from, double seconds, int cycles) {}

    /** The last {@code length} seconds, less what would be no whole cycle of the fan that swings most. */
    static Window lastWhole(StageTally stage, double length) {
        double bin = stage.thermal().binSeconds();
        double end = stage.thermal().bins() * bin;
        double settle = Math.min(SETTLE_SECONDS, SETTLE_SHARE * stage.seconds());
        double from = Math.max(settle, end - length);
        Window whole = new Window(from, end - from, 0);
        return stage.thermal()
                .fans()
                .map(fan -> FanCycles.within(fan.means(), (int) Math.ceil(from / bin), bin))
                .filter(w -> w.seconds() >= whole.seconds() / 2)
                .max(Comparator.comparingInt(FanCycles::cycles))
                .map(w -> new Window(w.from(), w.seconds(), w.cycles()))
                .orElse(whole);
    }

    static BlockMeans of(StageTally stage, ThermalTally.Line line, Window window) {
        double bin = stage.thermal().binSeconds();
        int first = (int) Math.round(window.from() / bin);
        int bins = (int) Math.round(window.seconds() / bin);
        int each = Math.max(1, (bins + MOST_BLOCKS - 1) / MOST_BLOCKS);
        List<Double> at = new ArrayList<>();
        List<Double> means = new ArrayList<>();
        for (int begin = first; begin + each <= first + bins; begin += each) {
            double sum = 0;
            int read = 0;
            for (int i = begin; i < Math.min(begin + each, line.means().length); i++) {
                if (!Double.isNaN(line.means()[i])) {
                    sum += line.means()[i];
                    read++;
                }
            }
            if (2 * read >= each && read > 0) {
                at.add((begin + each / 2.0) * bin);
                means.add(sum / read);
            }
        }
        return new BlockMeans(at, means, each * bin);
    }

    int count() {
        return means.size();
    }

    double[] times() {
        return at.stream().mapToDouble(Double::doubleValue).toArray();
    }

    double[] values() {
        return means.stream().mapToDouble(Double::doubleValue).toArray();
    }

    double mean() {
        return means.stream().mapToDouble(Double::doubleValue).average().orElse(Double.NaN);
    }

    double[] residuals(Slope slope) {
        double[] times = times();
        double[] left = values();
        double middle = 0;
        for (double t : times) {
            middle += t / times.length;
        }
        for (int i = 0; i < left.length; i++) {
            left[i] -= slope.middle() + slope.slope() * (times[i] - middle);
        }
        return left;
    }

    /**
     * When the slope will be down to {@code wanted}: by the time in which it fell from the window's first half to its
     * second, as heat that is taken up does; the window's length again where it did not fall.
     */
    double secondsUntil(double wanted, Slope all, double windowSeconds) {
        int half = count() / 2;
        if (half < Slope.MINIMUM_COUNT) {
            return windowSeconds;
        }
        double[] times = times();
        double[] values = values();
        Slope early = Slope.of(Arrays.copyOfRange(times, 0, half), Arrays.copyOfRange(values, 0, half));
        Slope late = Slope.of(
                Arrays.copyOfRange(times, count() - half, count()),
                Arrays.copyOfRange(values, count() - half, count()));
        if (!(late.slope() > 0 && early.slope() > late.slope())) {
            return windowSeconds;
        }
        double timeConstant = windowSeconds / 2 / StrictMath.log(early.slope() / late.slope());
        return Math.max(0, timeConstant * StrictMath.log(all.slope() / wanted));
    }
}
