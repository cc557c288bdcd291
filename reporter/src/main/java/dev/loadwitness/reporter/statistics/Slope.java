// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

/**
 * Slope of a straight line by least squares, with a standard error that allows for neighbours that resemble each other: that
 * of independent errors, widened as if there were only so many values as tell as much. Choice, formula and simulation:
 * {@code docs/computation.md}.
 *
 * @param count values in the series
 * @param slope per unit of time
 * @param middle the line's value in the middle of the times
 * @param lagOne lag-1 autocorrelation of the residuals, corrected for the length of the series; 0 when all lie on the line
 * @param effectiveCount number of independent values that would tell as much about the slope
 * @param standardError of the slope; 0 when all values lie on the line, which says nothing about a sensor's resolution
 */
public record Slope(
        int count, double slope, double middle, double lagOne, double effectiveCount, double standardError) {
    /** Our choice: of fewer block means the autocorrelation of what the line leaves is not known. */
    public static final int MINIMUM_COUNT = 20;

    /** A line leaves this many degrees of freedom less than there are values. */
    private static final int COEFFICIENTS = 2;

    /**
     * From at least {@link #MINIMUM_COUNT} block means in order of time, about equally far apart.
     *
     * @param times in any unit; the slope is per that unit
     */
    public static Slope of(double[] times, double[] values) {
        int n = values.length;
        if (n < MINIMUM_COUNT || times.length != n) {
            throw new IllegalArgumentException(n + " values; " + MINIMUM_COUNT + " with their times are needed");
        }
        double timeMean = mean(times);
        double valueMean = mean(values);
        double sxx = 0;
        double sxy = 0;
        for (int i = 0; i < n; i++) {
            double x = times[i] - timeMean;
            sxx += x * x;
            sxy += x * (values[i] - valueMean);
        }
        double slope = sxy / Numbers.requirePositive(sxx, "spread of the times");
        double squares = 0;
        double products = 0;
        double before = 0;
        double size = 0;
        for (int i = 0; i < n; i++) {
            double residual = values[i] - valueMean - slope * (times[i] - timeMean);
            squares += residual * residual;
            products += residual * before;
            before = residual;
            size = Math.max(size, Math.abs(values[i]));
        }
        // What the arithmetic itself leaves is no scatter.
        double rounding = 1e-13 * size;
        if (squares <= n * rounding * rounding) {
            return new Slope(n, slope, valueMean, 0, n, 0);
        }
        double measured = products / squares;
        // Measured on what a fitted line leaves it is too low by about (2 + 4ρ)/n.
        double corrected = Math.max(0, Math.min(0.99, measured + (2 + 4 * measured) / n));
        double effective = Math.max(COEFFICIENTS + 1.0, n * (1 - corrected) / (1 + corrected));
        double variance = squares / (n - COEFFICIENTS) / sxx * (n / effective);
        return new Slope(n, slope, valueMean, corrected, effective, Math.sqrt(variance));
    }

    private static double mean(double[] values) {
        Moments moments = new Moments();
        for (double v : values) {
            moments.add(v);
        }
        return moments.summary().mean();
    }

    /** Half the width of the interval that leaves {@code 1 − confidence} on each side: Student's t times the standard error. */
    public double margin(double confidence) {
        return standardError == 0 ? 0 : Quantiles.studentT(confidence, effectiveCount - COEFFICIENTS) * standardError;
    }

    /** The slope is below this with probability {@code confidence}. */
    public double upper(double confidence) {
        return slope + margin(confidence);
    }

    /** The slope is above this with probability {@code confidence}. */
    public double lower(double confidence) {
        return slope - margin(confidence);
    }
}
