// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import org.apache.commons.math3.distribution.ChiSquaredDistribution;

/**
 * Two-sided normal tolerance interval, mean ± k·s: with the stated confidence it holds at least the stated share of the population
 * that the values are a sample of. Assumes independent values of one normal distribution. Source: ISO 16269-6 and NIST/SEMATECH
 * e-Handbook 7.2.6.3, there by approximation; here k is exact, by quadrature. {@code docs/computation.md} has the integral.
 *
 * @param count of values, at least 2
 * @param deviation standard deviation, divisor n − 1
 * @param factor k
 */
public record ToleranceInterval(int count, double mean, double deviation, double factor) {
    /** A standard normal mean is further out than this with a probability of 1e-18. */
    private static final double FURTHEST_MEAN = 8.8;

    /** Of Simpson's rule; twice as many move k by less than 1e-9. */
    private static final int STEPS = 200;

    private static final double ACCURACY = 1e-10;

    /** The interval of at least two values. */
    public static ToleranceInterval of(double[] values, double coverage, double confidence) {
        Moments moments = new Moments();
        for (double value : values) {
            moments.add(Numbers.requireFinite(value, "value"));
        }
        return new ToleranceInterval(
                values.length,
                moments.summary().mean(),
                moments.summary().standardDeviation(),
                factor(values.length, coverage, confidence));
    }

    public double low() {
        return mean - factor * deviation;
    }

    public double high() {
        return mean + factor * deviation;
    }

    public boolean holds(double value) {
        return value >= low() && value <= high();
    }

    /**
     * k, the root of 2√n ∫₀^∞ φ(√n·x)·P(χ²(n−1) ≥ (n−1)·r(x)²/k²) dx = confidence, where r(x) solves Φ(x+r) − Φ(x−r) = coverage.
     *
     * @param n at least 2
     */
    static double factor(int n, double coverage, double confidence) {
        if (n < 2) {
            throw new IllegalArgumentException(n + " values have no spread; a tolerance interval needs at least 2");
        }
        Numbers.requireOpenProbability(coverage, "coverage");
        Numbers.requireOpenProbability(confidence, "confidence");
        double[] halfWidths = new double[STEPS + 1];
        for (int i = 0; i <= STEPS; i++) {
            halfWidths[i] = halfWidth(FURTHEST_MEAN * i / STEPS / Math.sqrt(n), coverage);
        }
        ChiSquaredDistribution chi = new ChiSquaredDistribution(null, n - 1);
        double low = 0;
        double high = 2;
        while (reached(chi, halfWidths, high) < confidence) {
            low = high;
            high *= 2;
        }
        while (high - low > ACCURACY * high) {
            double middle = (low + high) / 2;
            if (reached(chi, halfWidths, middle) < confidence) {
                low = middle;
            } else {
                high = middle;
            }
        }
        return (low + high) / 2;
    }

    /** Confidence that mean ± k·s reaches, by Simpson's rule over the standardised mean. */
    private static double reached(ChiSquaredDistribution chi, double[] halfWidths, double k) {
        double sum = 0;
        double freedom = chi.getDegreesOfFreedom();
        for (int i = 0; i <= STEPS; i++) {
            double z = FURTHEST_MEAN * i / STEPS;
            double ratio = halfWidths[i] / k;
            double weight = i == 0 || i == STEPS ? 1 : i % 2 == 1 ? 4 : 2;
            sum += weight * StrictMath.exp(-z * z / 2) * (1 - chi.cumulativeProbability(freedom * ratio * ratio));
        }
        return 2 * sum * FURTHEST_MEAN / STEPS / 3 / Math.sqrt(2 * Math.PI);
    }

    /** Half width that holds {@code coverage} about a centre that is {@code x} deviations off. */
    private static double halfWidth(double x, double coverage) {
        double low = 0;
        double high = x + 10;
        while (high - low > ACCURACY) {
            double r = (low + high) / 2;
            if (Quantiles.normalProbability(x + r) - Quantiles.normalProbability(x - r) < coverage) {
                low = r;
            } else {
                high = r;
            }
        }
        return (low + high) / 2;
    }
}
