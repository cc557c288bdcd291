// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.math.BigDecimal;
import java.math.RoundingMode;

/**
 * Counts of values in bins of one fixed width, so that a median of any number of readings costs constant memory and comes out
 * the same whatever the order. Values outside the bins are counted as underflow and overflow.
 *
 * <p>A value that lies on the border of two bins, up to the rounding of a double, may be counted in either.
 */
public final class Histogram {
    private final double lower;
    private final double width;
    private final long[] counts;
    private long underflow;
    private long overflow;

    /** Where a quantile was found. */
    public enum Place {
        /** In a bin: the value holds. */
        IN_RANGE,
        /** Below the lowest bin: all that is known is that it is less than the lower border. */
        BELOW_RANGE,
        /** At or above the upper border of the highest bin. */
        ABOVE_RANGE,
        /** There were no values. */
        NO_DATA
    }

    /**
     * A quantile known to within half a bin: the exact one lies in {@code value ± halfWidth}. Outside the range {@code value}
     * is the border that it lies beyond, and {@code halfWidth} is infinite; without data both are NaN.
     */
    public record Quantile(Place place, double value, double halfWidth) {}

    /**
     * Bins {@code [lower + i·width, lower + (i+1)·width)} for {@code i} from 0 to {@code bins − 1}.
     */
    public Histogram(double lower, double width, int bins) {
        this.lower = Numbers.requireFinite(lower, "lower border");
        this.width = Numbers.requirePositive(width, "width of a bin");
        Numbers.requirePositive(bins, "number of bins");
        Numbers.requireFinite(lower + width * bins, "upper border");
        this.counts = new long[bins];
    }

    /**
     * Counts one value.
     *
     * @throws IllegalArgumentException when it is not finite
     */
    public void add(double value) {
        Numbers.requireFinite(value, "value");
        double bin = Math.floor((value - lower) / width);
        if (bin < 0) {
            underflow++;
        } else if (bin >= counts.length) {
            overflow++;
        } else {
            counts[(int) bin]++;
        }
    }

    /**
     * Counts all that another one has counted; that one stays as it was.
     *
     * @throws IllegalArgumentException when its bins differ from these
     */
    public void merge(Histogram other) {
        if (other.lower != lower || other.width != width || other.counts.length != counts.length) {
            throw new IllegalArgumentException(
                    "histograms with different bins cannot be merged: " + this + " and " + other);
        }
        for (int i = 0; i < counts.length; i++) {
            counts[i] += other.counts[i];
        }
        underflow += other.underflow;
        overflow += other.overflow;
    }

    /** All values, those outside the bins included. */
    public long count() {
        long count = underflow + overflow;
        for (long inBin : counts) {
            count += inBin;
        }
        return count;
    }

    /** Values below the lowest bin. */
    public long underflow() {
        return underflow;
    }

    /** Values at or above the upper border of the highest bin. */
    public long overflow() {
        return overflow;
    }

    /**
     * The smallest value that at least the share {@code probability} of all values does not exceed (inverse of the empirical
     * distribution function, definition 1 of Hyndman and Fan, The American Statistician 50, 1996).
     *
     * @param probability above 0 and below 1
     */
    public Quantile quantile(double probability) {
        Numbers.requireOpenProbability(probability, "probability");
        // In decimals: 0.07 · 100 as a double is above 7, which would move the rank by one.
        long rank = BigDecimal.valueOf(probability)
                .multiply(BigDecimal.valueOf(count()))
                .setScale(0, RoundingMode.CEILING)
                .longValueExact();
        return ofRank(rank);
    }

    /** The middle value, or the mean of the two middle ones. Beyond the range if either of them is. */
    public Quantile median() {
        long count = count();
        Quantile low = ofRank((count + 1) / 2);
        Quantile high = ofRank(count / 2 + 1);
        if (low.place() != Place.IN_RANGE) {
            return low;
        }
        if (high.place() != Place.IN_RANGE) {
            return high;
        }
        return new Quantile(Place.IN_RANGE, low.value() + (high.value() - low.value()) / 2, width / 2);
    }

    /** The value with this rank when sorted; the smallest has rank 1. */
    private Quantile ofRank(long rank) {
        if (count() == 0) {
            return new Quantile(Place.NO_DATA, Double.NaN, Double.NaN);
        }
        long seen = underflow;
        if (rank <= seen) {
            return new Quantile(Place.BELOW_RANGE, lower, Double.POSITIVE_INFINITY);
        }
        for (int i = 0; i < counts.length; i++) {
            seen += counts[i];
            if (rank <= seen) {
                return new Quantile(Place.IN_RANGE, lower + (i + 0.5) * width, width / 2);
            }
        }
        return new Quantile(Place.ABOVE_RANGE, lower + counts.length * width, Double.POSITIVE_INFINITY);
    }

    @Override
    public String toString() {
        return counts.length + " bins of " + width + " from " + lower;
    }
}
