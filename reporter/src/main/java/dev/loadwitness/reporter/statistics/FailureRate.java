// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import org.apache.commons.math3.distribution.ChiSquaredDistribution;

/**
 * What a time without, or with few, failures shows, if failures strike at a constant rate. Reference: NIST/SEMATECH
 * e-Handbook of Statistical Methods, 8.4.5.1 and 8.3.1.1.
 */
public final class FailureRate {
    private FailureRate() {}

    /**
     * One-sided lower bound on the mean time between failures, 2T/χ²(C; 2r + 2), in the unit of {@code time}.
     *
     * @param time watched, above 0
     * @param failures seen, 0 or more
     * @param confidence between 0 and 1
     */
    public static double lowerMeanTimeBetweenFailures(double time, int failures, double confidence) {
        requirePositive(time, "time");
        return 2 * time / chiSquared(failures, confidence);
    }

    /** Time that must pass with no more than {@code failures} to show {@code meanTime} at that confidence. */
    public static double requiredTime(double meanTime, int failures, double confidence) {
        requirePositive(meanTime, "mean time");
        return meanTime * chiSquared(failures, confidence) / 2;
    }

    private static double chiSquared(int failures, double confidence) {
        if (failures < 0 || !(confidence > 0 && confidence < 1)) {
            throw new IllegalArgumentException("failures=" + failures + " confidence=" + confidence);
        }
        return new ChiSquaredDistribution(2.0 * failures + 2).inverseCumulativeProbability(confidence);
    }

    /** Probability that a fault that strikes every {@code mean} on average shows itself within {@code time}. */
    public static double probabilityOfShowing(double time, double mean) {
        requirePositive(mean, "mean");
        return -StrictMath.expm1(-time / mean);
    }

    /**
     * The same where the mean is itself only the mean of {@code n} observed intervals: 1 − (1 + T/(n·m))⁻ⁿ, which is the
     * exponential probability averaged over the gamma distribution of the estimate.
     */
    public static double probabilityOfShowingGuessedFault(double time, double meanOfIntervals, int n) {
        requirePositive(meanOfIntervals, "mean of intervals");
        if (n < 1) {
            throw new IllegalArgumentException("n is " + n + "; at least one interval must have been seen");
        }
        return 1 - StrictMath.pow(1 + time / (n * meanOfIntervals), -n);
    }

    /** Chance that one episode of length {@code episode} falls between samples {@code period} apart. */
    public static double probabilityOfMissing(double episode, double period) {
        requirePositive(period, "period");
        return Math.max(0, 1 - episode / period);
    }

    private static void requirePositive(double value, String name) {
        if (!(value > 0) || Double.isInfinite(value)) {
            throw new IllegalArgumentException(name + " is " + value + "; it must be positive");
        }
    }
}
