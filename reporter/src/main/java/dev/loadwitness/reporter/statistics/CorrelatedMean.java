// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

/**
 * Mean of a series whose neighbours resemble each other, with a standard error that allows for it.
 *
 * <p>Assumes a stationary series in which resemblance fades like that of a first-order autoregression. A series with a trend is
 * none; its lag-1 autocorrelation comes out near 1 and the effective size small, which is the honest answer for its mean.
 * Sources and the correction for short series: {@code docs/computation.md}.
 *
 * @param count values in the series
 * @param mean plain mean; NaN without values
 * @param standardDeviation divisor n − 1; NaN below two values
 * @param lagOne lag-1 autocorrelation as measured; NaN below two values or when all are equal
 * @param effectiveCount number of independent values that would tell as much about the mean, from 1 to {@code count}; NaN below
 *     {@link #MINIMUM_COUNT} values
 * @param standardError standard uncertainty of the mean; NaN below {@link #MINIMUM_COUNT} values; 0 when all are equal. For an
 *     interval use Student's t with {@code effectiveCount − 1} degrees of freedom, which may be 0: then there is no interval
 */
public record CorrelatedMean(
        long count, double mean, double standardDeviation, double lagOne, double effectiveCount, double standardError) {
    /** Our choice: with fewer values the autocorrelation itself is known to no better than about ±0.35. */
    public static final int MINIMUM_COUNT = 8;

    /** Values in order of time, equally far apart. */
    public static CorrelatedMean of(double... series) {
        int n = series.length;
        Moments moments = new Moments();
        for (double value : series) {
            moments.add(value);
        }
        Moments.Summary summary = moments.summary();
        double lagOne = autocorrelation(series);
        if (n < MINIMUM_COUNT) {
            return new CorrelatedMean(n, summary.mean(), summary.standardDeviation(), lagOne, Double.NaN, Double.NaN);
        }
        if (summary.minimum() == summary.maximum()) {
            return new CorrelatedMean(n, summary.mean(), 0, lagOne, n, 0);
        }
        // Measured in a short series it is too low by about (1 + 4ρ)/n.
        double middle = Math.min(1, lagOne + (1 + 4 * lagOne) / n);
        // Too low a one passes too much, too high a one too little: taken higher by its own standard error.
        // A negative one would claim more values than n.
        double corrected = Math.max(0, Math.min(1, middle + Math.sqrt(Math.max(0, 1 - middle * middle) / n)));
        double effective = Math.max(1, n * (1 - corrected) / (1 + corrected));
        return new CorrelatedMean(
                n,
                summary.mean(),
                summary.standardDeviation(),
                lagOne,
                effective,
                // The mean goes along with what is slow in the series, so that deviations from it are too small.
                summary.standardDeviation() / Math.sqrt(Math.max(1, effective - 1)));
    }

    /**
     * Lag-1 autocorrelation as NIST's Statistical Reference Datasets define it: products of neighbouring deviations from the
     * common mean over the sum of all squared deviations. Between −1 and 1. NaN below two values or when all are equal.
     */
    public static double autocorrelation(double... series) {
        Moments moments = new Moments();
        for (double value : series) {
            moments.add(value);
        }
        Moments.Summary summary = moments.summary();
        if (series.length < 2 || summary.minimum() == summary.maximum()) {
            return Double.NaN;
        }
        double products = 0;
        double squares = 0;
        double before = 0;
        for (double value : series) {
            double deviation = value - summary.mean();
            products += deviation * before;
            squares += deviation * deviation;
            before = deviation;
        }
        return products / squares;
    }
}
