// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.Arrays;
import org.jspecify.annotations.Nullable;

/**
 * Tabular cumulative sums: {@code C+ = max(0, C+ + x − target − k)}, {@code C− = max(0, C− + target − k − x)}, an alarm above
 * {@code h}. All three in the unit of the values.
 *
 * @param target what the values should be
 * @param k allowance, half of the least shift that is looked for
 * @param h decision interval
 */
public record Cusum(double target, double k, double h) {
    /** Our choice: a shift's size cannot be told from noise in fewer. */
    public static final int MINIMUM_COUNT = 20;

    /** What Siegmund adds to h for the overshoot of a sum of normal values, in standard deviations. */
    private static final double OVERSHOOT = 1.166;

    private static final double LEAST_K = 0.5;
    /** 1/Φ⁻¹(5/8): a quarter of normal values lie within σ over this of their mean. */
    private static final double LOWER_QUARTILE_SCALE = 3.138262;

    private static final double DIFFERENCE_TO_DEVIATION = Math.sqrt(2);

    /** Beyond this resemblance a shift and noise look alike: nothing is claimed. */
    private static final double MOST_CORRELATION = 0.98;

    private static final double ALLOWANCE = 1.5;
    private static final int LEAST_PART = 5;

    public Cusum {
        Numbers.requireFinite(target, "target");
        Numbers.requireNotNegative(k, "k");
        Numbers.requireNotNegative(h, "h");
    }

    /**
     * One alarm.
     *
     * @param first index of the first value after the change, as the sum dates it
     * @param signal index at which the sum crossed h
     * @param level estimated level since the change: target ± (k + C/N)
     */
    public record Change(int first, int signal, double level) {}

    /** Sums of one side after each value. */
    double[] sums(boolean upwards, double... values) {
        double[] sums = new double[values.length];
        double sum = 0;
        for (int i = 0; i < values.length; i++) {
            double beyond = (upwards ? values[i] - target : target - values[i]) - k;
            sum = Math.max(0, sum + beyond);
            sums[i] = sum;
        }
        return sums;
    }

    /**
     * The first alarm on either side whose level is {@code leastShift} or more from the target; null if there is none. A
     * smaller shift that lasts crosses h too.
     */
    public @Nullable Change first(double leastShift, double... values) {
        Change up = first(true, leastShift, values);
        Change down = first(false, leastShift, values);
        if (up == null || down == null) {
            return up == null ? down : up;
        }
        return up.signal <= down.signal ? up : down;
    }

    private @Nullable Change first(boolean upwards, double leastShift, double... values) {
        double[] sums = sums(upwards, values);
        int since = 0;
        for (int i = 0; i < sums.length; i++) {
            since = sums[i] > 0 ? since + 1 : 0;
            double beyond = since == 0 ? 0 : k + sums[i] / since;
            if (sums[i] > h && beyond >= leastShift) {
                return new Change(i - since + 1, i, target + (upwards ? beyond : -beyond));
            }
        }
        return null;
    }

    /**
     * Average run length of both sides together without a shift, for independent normal values: Siegmund's approximation.
     *
     * @param k in standard deviations, above 0
     * @param h in standard deviations
     */
    static double averageRunLength(double k, double h) {
        double b = h + OVERSHOOT;
        return (StrictMath.exp(2 * k * b) - 2 * k * b - 1) / (2 * k * k) / 2;
    }

    /** The least h, in standard deviations, with which a series of {@code n} alarms falsely with {@code falseAlarm} at most. */
    static double decisionInterval(double k, int n, double falseAlarm) {
        double wanted = n / Numbers.requireOpenProbability(falseAlarm, "falseAlarm");
        double low = 0;
        double high = 1;
        while (averageRunLength(k, high) < wanted) {
            high *= 2;
        }
        for (int i = 0; i < 60; i++) {
            double middle = (low + high) / 2;
            if (averageRunLength(k, middle) < wanted) {
                low = middle;
            } else {
                high = middle;
            }
        }
        return high;
    }

    /**
     * Designed for one series, of which it is not known beforehand what it should be: the target is its median, its spread that
     * of what is left when its largest step is taken out. Where neighbours resemble each other the spread is that of their
     * long-term mean.
     *
     * @param falseAlarm probability, at most, that a series without a change raises an alarm
     * @param leastShift from the median; smaller ones are not looked for
     */
    public static Cusum forSeries(double falseAlarm, double leastShift, double... values) {
        int n = values.length;
        if (n < MINIMUM_COUNT) {
            throw new IllegalArgumentException(n + " values; " + MINIMUM_COUNT + " are needed");
        }
        double median = HampelIdentifier.median(values);
        double spread = longTermDeviation(values);
        double k = Math.max(leastShift / 2, LEAST_K * spread);
        if (spread == 0) {
            return new Cusum(median, k, k);
        }
        // At least one whole value at the least shift must come together, however quiet the others are.
        return new Cusum(median, k, Math.max(k, spread * decisionInterval(k / spread, n, falseAlarm)));
    }

    /**
     * σ·√((1+ρ)/(1−ρ)) of a first-order autoregression, of what is left when the series is split where that leaves least: a
     * change of level must not pass for noise. ρ is known from few values only badly, and is taken higher by about one and a
     * half of its standard errors.
     */
    static double longTermDeviation(double... values) {
        int n = values.length;
        double[] left = withoutItsLargestStep(values);
        double squares = 0;
        double products = 0;
        for (int i = 0; i < n; i++) {
            squares += left[i] * left[i];
            products += i == 0 ? 0 : left[i] * left[i - 1];
        }
        if (squares == 0) {
            return 0;
        }
        double measured = products / squares;
        double allowed = measured + (3 + 6 * measured) / n + ALLOWANCE * Math.sqrt((1 - measured * measured) / n);
        double rho = Math.max(0, Math.min(MOST_CORRELATION, allowed));
        return Math.sqrt(squares / (n - 2) * (1 + rho) / (1 - rho));
    }

    /** Deviations from the means of the two parts into which it is best split. */
    private static double[] withoutItsLargestStep(double... values) {
        int n = values.length;
        double total = 0;
        for (double v : values) {
            total += v;
        }
        double best = 0;
        int split = n;
        double sum = 0;
        for (int i = 1; i < n; i++) {
            sum += values[i - 1];
            double apart = sum / i - (total - sum) / (n - i);
            double explained = apart * apart * i * (n - i) / n;
            if (i >= LEAST_PART && n - i >= LEAST_PART && explained > best) {
                best = explained;
                split = i;
            }
        }
        double first = 0;
        for (int i = 0; i < split; i++) {
            first += values[i] / split;
        }
        double second = 0;
        for (int i = split; i < n; i++) {
            second += values[i] / (n - split);
        }
        double[] left = new double[n];
        for (int i = 0; i < n; i++) {
            left[i] = values[i] - (i < split ? first : second);
        }
        return left;
    }

    /**
     * σ of independent normal values around levels that change, from the lower quartile of the differences between neighbours:
     * up to half of all neighbours may belong to different levels. Too low where neighbours resemble each other. At
     * least 3 values.
     */
    public static double neighbourDeviation(double... values) {
        double[] differences = new double[values.length - 1];
        for (int i = 1; i < values.length; i++) {
            differences[i - 1] = Math.abs(values[i] - values[i - 1]);
        }
        Arrays.sort(differences);
        return LOWER_QUARTILE_SCALE * differences[differences.length / 4] / DIFFERENCE_TO_DEVIATION;
    }
}
