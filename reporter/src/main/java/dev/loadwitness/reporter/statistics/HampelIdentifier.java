// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.Arrays;

/**
 * Tells values that stand out from a series, by its median and its median absolute deviation, which up to half of the values
 * cannot move. The factor grows with the series, so that a whole series without anything unusual in it raises an alarm with no
 * more than the probability asked for, and is wider for short ones, whose spread is known less well. Sources and simulation:
 * {@code docs/computation.md}.
 *
 * @param median of the series
 * @param scale 1.4826 times the median absolute deviation, which estimates a normal series' standard deviation; 0 when more
 *     than half of the values are equal, and then any other value stands out: state a least deviation
 * @param factor by how many scales a value must deviate
 */
public record HampelIdentifier(double median, double scale, double factor) {
    /** Our choice: of fewer values none can be called unusual. */
    public static final int MINIMUM_COUNT = 8;

    /** 1/Φ⁻¹(3/4). */
    static final double NORMAL_SCALE = 1.482602218505602;

    /** What a median absolute deviation of normal values tells, as a share of what a standard deviation of them tells. */
    private static final double EFFICIENCY = 0.37;

    /**
     * From at least {@link #MINIMUM_COUNT} values.
     *
     * @param falseAlarm probability, at most, that any value of a normal series stands out
     */
    public static HampelIdentifier of(double falseAlarm, double... values) {
        int n = values.length;
        if (n < MINIMUM_COUNT) {
            throw new IllegalArgumentException(n + " values; " + MINIMUM_COUNT + " are needed");
        }
        double median = median(values);
        double[] deviations =
                Arrays.stream(values).map(x -> Math.abs(x - median)).toArray();
        // The chance is shared out evenly among the values (Bonferroni), which holds however much they resemble each
        // other.
        double tail = Numbers.requireOpenProbability(falseAlarm, "falseAlarm") / (2.0 * n);
        double factor = Quantiles.studentT(1 - tail, EFFICIENCY * (n - 1));
        return new HampelIdentifier(median, NORMAL_SCALE * median(deviations), factor);
    }

    /** Whether {@code value} stands out, by {@code leastDeviation} at least. */
    public boolean standsOut(double value, double leastDeviation) {
        double deviation = Math.abs(value - median);
        return deviation > factor * scale && deviation >= leastDeviation;
    }

    static double median(double... values) {
        double[] sorted = values.clone();
        Arrays.sort(sorted);
        int middle = sorted.length / 2;
        return sorted.length % 2 == 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
    }
}
