// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

/**
 * What a stretch of running shows about how often something fails, and how long one must run to show it.
 *
 * <p>Assumes that failures strike at a constant rate (exponential times between them), independent of each other. Times may be in
 * any unit as long as all are in the same; results come in that unit. Sources: NIST/SEMATECH e-Handbook 8.4.5.1 and 8.3.1.1.
 */
public final class FailureRate {
    private FailureRate() {}

    /**
     * One-sided lower bound on the mean time between failures, {@code 2T / χ²(C; 2r+2)}, for a test that ends at a set time.
     *
     * @param time running time T of all attempts together; 0 shows nothing and gives 0
     * @param failures failures r in it; 0 is allowed
     * @param confidence C, between 0 and 1
     */
    public static double meanTimeLowerBound(double time, int failures, double confidence) {
        Numbers.requireNotNegative(time, "time");
        return time / testLengthFactor(failures, confidence);
    }

    /**
     * Running time that shows a mean time between failures of at least {@code meanTime}, {@code m·χ²(C; 2r+2)/2}; without
     * failures that is {@code −m·ln(1−C)}.
     *
     * @param allowedFailures failures r that may happen meanwhile
     */
    public static double requiredTime(double meanTime, int allowedFailures, double confidence) {
        Numbers.requirePositive(meanTime, "mean time between failures");
        return meanTime * testLengthFactor(allowedFailures, confidence);
    }

    /** Probability that a fault which strikes every {@code meanTime} on average shows at least once: {@code 1−e^(−T/m)}. */
    public static double chanceSeen(double time, double meanTime) {
        Numbers.requireNotNegative(time, "time");
        Numbers.requirePositive(meanTime, "mean time between failures");
        return -StrictMath.expm1(-time / meanTime);
    }

    /**
     * The same where the mean time is itself the mean of only a few observed intervals: {@code 1−(1+T/(n·m̂))^(−n)}. Always less
     * than {@link #chanceSeen}, and close to it once there are many intervals.
     *
     * @param observedMean mean m̂ of the observed times between failures
     * @param intervals how many intervals n it is the mean of, at least 1
     */
    public static double chanceSeenFromObserved(double time, double observedMean, int intervals) {
        Numbers.requireNotNegative(time, "time");
        Numbers.requirePositive(observedMean, "observed mean time between failures");
        double n = Numbers.requirePositive(intervals, "number of intervals");
        return -StrictMath.expm1(-n * StrictMath.log1p(time / (n * observedMean)));
    }

    /** Running time after which {@link #chanceSeenFromObserved} reaches {@code confidence}: {@code n·m̂·((1−C)^(−1/n) − 1)}. */
    public static double requiredTimeFromObserved(double observedMean, int intervals, double confidence) {
        Numbers.requirePositive(observedMean, "observed mean time between failures");
        double n = Numbers.requirePositive(intervals, "number of intervals");
        Numbers.requireOpenProbability(confidence, "confidence");
        return n * observedMean * StrictMath.expm1(-StrictMath.log1p(-confidence) / n);
    }

    private static double testLengthFactor(int failures, double confidence) {
        Numbers.requireNotNegative(failures, "number of failures");
        Numbers.requireOpenProbability(confidence, "confidence");
        if (failures == 0) {
            return -StrictMath.log1p(-confidence); // χ² with 2 degrees of freedom in closed form
        }
        return Quantiles.chiSquared(confidence, 2.0 * failures + 2) / 2;
    }
}
