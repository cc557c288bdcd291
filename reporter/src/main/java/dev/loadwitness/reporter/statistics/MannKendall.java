// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.Arrays;

/**
 * Mann–Kendall test for a trend, with ties in value and in time, and with the continuity correction; and Theil–Sen's slope.
 * Assumes independent values: sensor samples are not, and a test of them finds trends where there are none. It is printed
 * beside a slope's bound and decides nothing, since a trend that is not significant may still be steep.
 *
 * @param count values
 * @param s pairs that rise less pairs that fall
 * @param variance of {@code s} without a trend
 * @param z {@code s}, one nearer to zero, over its standard deviation; 0 when all values are equal
 * @param twoSidedProbability that chance alone gives at least as much
 * @param theilSen median of the slopes of all pairs that differ in time; NaN if there is none
 * @param intercept Conover's: median of the values less the slope times the median of the times
 * @param slopes ascending, of all pairs that differ in time
 */
@SuppressWarnings("ArrayRecordComponent") // the slopes of all pairs, for the interval
public record MannKendall(
        int count,
        long s,
        double variance,
        double z,
        double twoSidedProbability,
        double theilSen,
        double intercept,
        double[] slopes) {
    /** Block means; of more the pairs are too many. */
    public static final int MOST = 600;

    /** From 2 to {@link #MOST} values in order of time. */
    public static MannKendall of(double[] times, double[] values) {
        int n = values.length;
        if (n < 2 || n > MOST || times.length != n) {
            throw new IllegalArgumentException(n + " values; 2 to " + MOST + " with their times are needed");
        }
        long s = 0;
        double[] slopes = new double[n * (n - 1) / 2];
        int k = 0;
        for (int i = 0; i < n; i++) {
            Numbers.requireFinite(values[i], "value");
            for (int j = i + 1; j < n; j++) {
                double dt = times[j] - times[i];
                double dy = values[j] - values[i];
                s += (long) (Math.signum(dt) * Math.signum(dy));
                if (dt != 0) {
                    slopes[k++] = dy / dt;
                }
            }
        }
        double[] all = Arrays.copyOf(slopes, k);
        Arrays.sort(all);
        double variance = variance(n, ties(values), ties(times));
        double z = s == 0 || variance == 0 ? 0 : (s - Math.signum((double) s)) / Math.sqrt(variance);
        double p = 2 * Quantiles.normalProbability(-Math.abs(z));
        double slope = k == 0 ? Double.NaN : median(all);
        return new MannKendall(
                n,
                s,
                variance,
                z,
                Math.min(1, p),
                slope,
                HampelIdentifier.median(values) - slope * HampelIdentifier.median(times),
                all);
    }

    private static double median(double[] sorted) {
        int middle = sorted.length / 2;
        return sorted.length % 2 == 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
    }

    private static double[] ties(double[] values) {
        double[] sorted = values.clone();
        Arrays.sort(sorted);
        double[] groups = new double[sorted.length];
        int used = 0;
        int length = 1;
        for (int i = 1; i <= sorted.length; i++) {
            if (i < sorted.length && sorted[i] == sorted[i - 1]) {
                length++;
            } else {
                groups[used++] = length;
                length = 1;
            }
        }
        return Arrays.copyOf(groups, used);
    }

    private static double variance(double n, double[] valueTies, double[] timeTies) {
        double variance = n * (n - 1) * (2 * n + 5);
        double values2 = 0;
        double values3 = 0;
        double times2 = 0;
        double times3 = 0;
        for (double t : valueTies) {
            variance -= t * (t - 1) * (2 * t + 5);
            values2 += t * (t - 1);
            values3 += t * (t - 1) * (t - 2);
        }
        for (double u : timeTies) {
            variance -= u * (u - 1) * (2 * u + 5);
            times2 += u * (u - 1);
            times3 += u * (u - 1) * (u - 2);
        }
        variance /= 18;
        variance += n > 2 ? values3 * times3 / (9 * n * (n - 1) * (n - 2)) : 0;
        return Math.max(0, variance + values2 * times2 / (2 * n * (n - 1)));
    }

    /** Two-sided interval for Theil–Sen's slope by Gilbert's ranks, interpolated. NaN where they leave the slopes. */
    public double[] theilSenInterval(double confidence) {
        double c = Quantiles.normal((1 + confidence) / 2) * Math.sqrt(variance);
        return new double[] {atRank((slopes.length - c) / 2), atRank((slopes.length + c) / 2 + 1)};
    }

    private double atRank(double rank) {
        int below = (int) Math.floor(rank);
        if (below < 1 || rank > slopes.length) {
            return Double.NaN;
        }
        double low = slopes[below - 1];
        double high = below < slopes.length ? slopes[below] : low;
        return low + (rank - below) * (high - low);
    }
}
