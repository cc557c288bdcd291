// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.reporter.statistics.Histogram.Place;
import dev.loadwitness.reporter.statistics.Histogram.Quantile;
import java.util.Arrays;
import java.util.Random;
import org.junit.jupiter.api.RepeatedTest;
import org.junit.jupiter.api.RepetitionInfo;
import org.junit.jupiter.api.Test;

final class HistogramTest {

    @Test
    void medianIsTheMiddleOfItsBinWithHalfABinOfResolution() {
        Histogram histogram = of(new Histogram(0, 2, 50), 10.1, 11.9, 40);
        assertThat(histogram.median()).isEqualTo(new Quantile(Place.IN_RANGE, 11, 1));
    }

    @Test
    void medianOfAnEvenNumberLiesBetweenTheTwoMiddleBins() {
        Histogram histogram = of(new Histogram(0, 2, 50), 1, 11, 21, 31);
        assertThat(histogram.median()).isEqualTo(new Quantile(Place.IN_RANGE, 16, 1));
    }

    @RepeatedTest(20)
    void everyQuantileLiesWithinHalfABinOfTheSortedData(RepetitionInfo repetition) {
        Random random = new Random(repetition.getCurrentRepetition());
        double[] data = random.doubles(1 + random.nextInt(300), 0, 100).toArray();
        Histogram histogram = of(new Histogram(0, 0.7, 150), data);
        Arrays.sort(data);
        for (int percent = 1; percent < 100; percent++) {
            int rank = (percent * data.length + 99) / 100;
            Quantile quantile = histogram.quantile(percent / 100.0);
            assertThat(quantile.place()).isEqualTo(Place.IN_RANGE);
            assertThat(quantile.halfWidth()).isEqualTo(0.35);
            assertThat(quantile.value()).isCloseTo(data[rank - 1], within(0.35 + 1e-12));
        }
        int n = data.length;
        double median = (data[(n - 1) / 2] + data[n / 2]) / 2;
        assertThat(histogram.median().value()).isCloseTo(median, within(0.35 + 1e-12));
    }

    @Test
    void quantileRankIsCountedInDecimals() {
        Histogram histogram = new Histogram(0.5, 1, 100);
        for (int i = 1; i <= 100; i++) {
            histogram.add(i);
        }
        assertThat(histogram.quantile(0.07).value()).isEqualTo(7);
        assertThat(histogram.quantile(0.071).value()).isEqualTo(8);
    }

    @Test
    void valuesOutsideAreCountedAndAQuantileThereIsSaidToBeThere() {
        Histogram histogram = of(new Histogram(10, 1, 10), -5, 9.999, 10, 19.999, 20, 1e300);
        assertThat(histogram.count()).isEqualTo(6);
        assertThat(histogram.underflow()).isEqualTo(2);
        assertThat(histogram.overflow()).isEqualTo(2);
        assertThat(histogram.quantile(0.3)).isEqualTo(new Quantile(Place.BELOW_RANGE, 10, Double.POSITIVE_INFINITY));
        assertThat(histogram.median()).isEqualTo(new Quantile(Place.IN_RANGE, 15, 0.5));
        assertThat(histogram.quantile(0.7)).isEqualTo(new Quantile(Place.ABOVE_RANGE, 20, Double.POSITIVE_INFINITY));
    }

    @Test
    void medianWithOneMiddleValueOutsideIsSaidToBeThere() {
        assertThat(of(new Histogram(0, 1, 10), -1, 5).median().place()).isEqualTo(Place.BELOW_RANGE);
        assertThat(of(new Histogram(0, 1, 10), 5, 11).median().place()).isEqualTo(Place.ABOVE_RANGE);
    }

    @Test
    void noDataGivesNoQuantile() {
        Histogram empty = new Histogram(0, 1, 10);
        assertThat(empty.median()).isEqualTo(new Quantile(Place.NO_DATA, Double.NaN, Double.NaN));
        assertThat(empty.quantile(0.5).place()).isEqualTo(Place.NO_DATA);
    }

    @RepeatedTest(5)
    void mergedPartsEqualTheWhole(RepetitionInfo repetition) {
        Random random = new Random(repetition.getCurrentRepetition());
        Histogram whole = new Histogram(20, 0.5, 160);
        Histogram left = new Histogram(20, 0.5, 160);
        Histogram right = new Histogram(20, 0.5, 160);
        for (int i = 0; i < 1000; i++) {
            double value = 60 + 30 * random.nextGaussian();
            whole.add(value);
            (random.nextBoolean() ? left : right).add(value);
        }
        left.merge(right);
        assertThat(left.count()).isEqualTo(1000);
        assertThat(left.underflow()).isEqualTo(whole.underflow()).isPositive();
        assertThat(left.overflow()).isEqualTo(whole.overflow()).isPositive();
        assertThat(left.median()).isEqualTo(whole.median());
        for (int percent = 1; percent < 100; percent++) {
            assertThat(left.quantile(percent / 100.0)).isEqualTo(whole.quantile(percent / 100.0));
        }
    }

    @Test
    void differentBinsAreNotMerged() {
        Histogram histogram = new Histogram(0, 1, 10);
        assertThatIllegalArgumentException().isThrownBy(() -> histogram.merge(new Histogram(0, 1, 11)));
        assertThatIllegalArgumentException().isThrownBy(() -> histogram.merge(new Histogram(0, 2, 10)));
        assertThatIllegalArgumentException().isThrownBy(() -> histogram.merge(new Histogram(1, 1, 10)));
    }

    @Test
    void nonsenseIsRefused() {
        assertThatIllegalArgumentException().isThrownBy(() -> new Histogram(0, 1, 10).add(Double.NaN));
        assertThatIllegalArgumentException().isThrownBy(() -> new Histogram(0, 0, 10));
        assertThatIllegalArgumentException().isThrownBy(() -> new Histogram(0, 1, 0));
        assertThatIllegalArgumentException().isThrownBy(() -> new Histogram(Double.NaN, 1, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> new Histogram(0, 1, 10).quantile(0));
        assertThatIllegalArgumentException().isThrownBy(() -> new Histogram(0, 1, 10).quantile(1));
    }

    private static Histogram of(Histogram histogram, double... values) {
        for (double value : values) {
            histogram.add(value);
        }
        return histogram;
    }
}
