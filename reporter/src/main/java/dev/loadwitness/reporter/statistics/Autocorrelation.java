// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

/** How much a number depends on the one before, and what that does to the uncertainty of their mean. */
public final class Autocorrelation {
    private Autocorrelation() {}

    /**
     * Lag-1 autocorrelation as NIST StRD defines it: Σ (yᵢ − ȳ)(yᵢ₋₁ − ȳ) over Σ (yᵢ − ȳ)². NaN of fewer than two numbers
     * or of equal ones.
     */
    public static double lagOne(double... values) {
        double mean = Moments.of(values).mean();
        double products = 0;
        double squares = 0;
        for (int i = 0; i < values.length; i++) {
            double d = values[i] - mean;
            squares += d * d;
            if (i > 0) {
                products += d * (values[i - 1] - mean);
            }
        }
        return values.length < 2 || squares == 0 ? Double.NaN : products / squares;
    }

    /**
     * Standard error of the mean of numbers that depend on their neighbours as in a first-order autoregression: the
     * sample size is taken as n(1 − r)/(1 + r), with r the lag-1 autocorrelation, held between 0 and 0.95. A negative r
     * is taken as 0: it would claim more than n independent numbers. 0 of equal numbers; NaN of fewer than two.
     *
     * <p>Reference: effective sample size of an AR(1) series, for instance von Storch and Zwiers, Statistical Analysis in
     * Climate Research, 1999, section 6.6 (from memory).
     */
    public static double standardErrorOfMean(double... values) {
        Moments m = Moments.of(values);
        if (m.count() < 2) {
            return Double.NaN;
        }
        double r = lagOne(values);
        if (Double.isNaN(r)) {
            return 0;
        }
        double held = Math.max(0, Math.min(0.95, r));
        double effective = Math.max(1, m.count() * (1 - held) / (1 + held));
        return m.standardDeviation() / Math.sqrt(effective);
    }
}
