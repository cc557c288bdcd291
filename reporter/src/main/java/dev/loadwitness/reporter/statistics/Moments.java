// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

/**
 * Mean and variance of numbers that come one by one, by Welford's recurrence, which does not subtract large sums from
 * each other. Reference: B. P. Welford, Technometrics 4(3), 1962; merging after Chan, Golub and LeVeque, 1979 (both
 * from memory). Checked against NIST StRD.
 */
public final class Moments {
    private long count;
    private double mean;
    private double squares;
    private double lowest = Double.NaN;
    private double highest = Double.NaN;

    /** Moments of all of {@code values}. */
    public static Moments of(double... values) {
        Moments m = new Moments();
        for (double v : values) {
            m.add(v);
        }
        return m;
    }

    /**
     * Takes one number.
     *
     * @throws IllegalArgumentException if it is not finite
     */
    public void add(double value) {
        if (!Double.isFinite(value)) {
            throw new IllegalArgumentException("value is " + value + "; leave out what was not read");
        }
        count++;
        double delta = value - mean;
        mean += delta / count;
        squares += delta * (value - mean);
        lowest = count == 1 ? value : Math.min(lowest, value);
        highest = count == 1 ? value : Math.max(highest, value);
    }

    /** Takes all numbers that {@code other} took; the result is that of all of them together, up to rounding. */
    public void merge(Moments other) {
        if (other.count == 0) {
            return;
        }
        if (count == 0) {
            lowest = other.lowest;
            highest = other.highest;
        } else {
            lowest = Math.min(lowest, other.lowest);
            highest = Math.max(highest, other.highest);
        }
        long together = count + other.count;
        double delta = other.mean - mean;
        squares += other.squares + delta * delta * ((double) count * other.count / together);
        mean += delta * other.count / together;
        count = together;
    }

    public long count() {
        return count;
    }

    /** The arithmetic mean; NaN of no numbers. */
    public double mean() {
        return count == 0 ? Double.NaN : mean;
    }

    /** Sample variance with divisor n − 1; NaN of fewer than two numbers. */
    public double variance() {
        return count < 2 ? Double.NaN : squares / (count - 1);
    }

    /** Square root of {@link #variance()}; NaN of fewer than two numbers. */
    public double standardDeviation() {
        return Math.sqrt(variance());
    }

    /** NaN of no numbers. */
    public double lowest() {
        return lowest;
    }

    /** NaN of no numbers. */
    public double highest() {
        return highest;
    }
}
