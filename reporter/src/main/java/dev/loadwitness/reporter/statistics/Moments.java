// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

/**
 * Count, smallest, largest, mean and variance of a stream of values, in constant memory.
 *
 * <p>Updating formulas of Welford (Technometrics 4, 1962) applied to the distance from the first value, and the pairwise
 * merge of Chan, Golub and LeVeque (1979). The distance matters where the spread is tiny beside the mean: there the plain sum
 * of squares has no correct digit left.
 *
 * <p>Says nothing about independence: the standard error of a mean of sensor readings comes from {@link CorrelatedMean}.
 * Values beyond about 1e150 overflow their squares; count, smallest and largest stay exact, the variance becomes infinite or
 * NaN.
 */
public final class Moments {
    private long count;
    private double first;
    /** Mean of (value − first). */
    private double distanceMean;
    /** Sum of (value − mean)². */
    private double squares;

    private double smallest = Double.NaN;
    private double largest = Double.NaN;

    /**
     * What the stream looked like. {@code mean}, {@code minimum} and {@code maximum} are NaN when {@code count} is 0;
     * {@code variance} and {@code standardDeviation} (divisor n − 1) are NaN when it is below 2.
     */
    public record Summary(
            long count, double mean, double variance, double standardDeviation, double minimum, double maximum) {}

    /**
     * Takes one value.
     *
     * @throws IllegalArgumentException when it is not finite
     */
    public void add(double value) {
        Numbers.requireFinite(value, "value");
        if (count == 0) {
            first = value;
            smallest = value;
            largest = value;
        }
        count++;
        double distance = value - first;
        double deviation = distance - distanceMean;
        distanceMean += deviation / count;
        squares += deviation * (distance - distanceMean);
        smallest = Math.min(smallest, value);
        largest = Math.max(largest, value);
    }

    /** Takes all that another one has taken; that one stays as it was. Equal to one pass over both, up to rounding. */
    public void merge(Moments other) {
        if (other.count == 0) {
            return;
        }
        if (count == 0) {
            first = other.first;
            smallest = other.smallest;
            largest = other.largest;
        }
        long total = count + other.count;
        double apart = (other.first - first) + (other.distanceMean - distanceMean);
        double share = (double) other.count / total;
        squares += other.squares + apart * apart * count * share;
        distanceMean += apart * share;
        count = total;
        smallest = Math.min(smallest, other.smallest);
        largest = Math.max(largest, other.largest);
    }

    /** The figures so far; the stream may go on afterwards. */
    public Summary summary() {
        double mean = count == 0 ? Double.NaN : first + distanceMean;
        double variance = count < 2 ? Double.NaN : squares / (count - 1);
        return new Summary(count, mean, variance, Math.sqrt(variance), smallest, largest);
    }
}
