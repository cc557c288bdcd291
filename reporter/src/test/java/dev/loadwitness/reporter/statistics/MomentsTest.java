// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import java.util.Arrays;
import java.util.Random;
import org.junit.jupiter.api.RepeatedTest;
import org.junit.jupiter.api.RepetitionInfo;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvFileSource;
import org.junit.jupiter.params.provider.ValueSource;

final class MomentsTest {

    @ParameterizedTest(name = "{0}")
    @CsvFileSource(resources = "nist-strd-univariate.csv")
    void momentsMatchNistCertifiedValues(
            String set, int n, double mean, double deviation, double lagOne, double meanRel, double deviationRel) {
        double[] data = NistDataSets.named(set);
        assertThat(data).hasSize(n);
        assertCertified(momentsOf(data), n, mean, deviation, meanRel, deviationRel);
    }

    @ParameterizedTest(name = "{0}")
    @CsvFileSource(resources = "nist-strd-univariate.csv")
    void mergedPartsMatchNistCertifiedValues(
            String set, int n, double mean, double deviation, double lagOne, double meanRel, double deviationRel) {
        double[] data = NistDataSets.named(set);
        Moments moments = new Moments();
        int step = Math.max(1, n / 7);
        for (int from = 0; from < n; from += step) {
            moments.merge(momentsOf(Arrays.copyOfRange(data, from, Math.min(n, from + step))));
        }
        assertCertified(moments, n, mean, deviation, meanRel, deviationRel);
    }

    private static void assertCertified(
            Moments moments, int n, double mean, double deviation, double meanRel, double deviationRel) {
        Moments.Summary summary = moments.summary();
        assertThat(summary.count()).isEqualTo(n);
        assertThat(summary.mean()).isCloseTo(mean, within(Math.abs(mean) * meanRel));
        assertThat(summary.standardDeviation()).isCloseTo(deviation, within(deviation * deviationRel));
        assertThat(summary.variance())
                .isCloseTo(deviation * deviation, within(deviation * deviation * 3 * deviationRel));
    }

    @Test
    void extremesOfLewAreThoseOfTheDataSet() {
        Moments.Summary summary = momentsOf(NistDataSets.named("Lew")).summary();
        assertThat(summary.minimum()).isEqualTo(-579);
        assertThat(summary.maximum()).isEqualTo(300);
    }

    @RepeatedTest(20)
    void mergingAnySplitEqualsOnePass(RepetitionInfo repetition) {
        Random random = new Random(repetition.getCurrentRepetition());
        double[] data = random.doubles(2 + random.nextInt(500), -50, 1000).toArray();
        int cut = random.nextInt(data.length + 1);
        Moments left = momentsOf(Arrays.copyOf(data, cut));
        Moments right = momentsOf(Arrays.copyOfRange(data, cut, data.length));
        Moments.Summary rightBefore = right.summary();
        left.merge(right);
        Moments.Summary whole = momentsOf(data).summary();
        Moments.Summary merged = left.summary();
        assertThat(merged.count()).isEqualTo(whole.count());
        assertThat(merged.minimum()).isEqualTo(whole.minimum());
        assertThat(merged.maximum()).isEqualTo(whole.maximum());
        assertThat(merged.mean()).isCloseTo(whole.mean(), within(1e-11));
        assertThat(merged.variance()).isCloseTo(whole.variance(), within(whole.variance() * 1e-12));
        assertThat(right.summary()).isEqualTo(rightBefore);
    }

    @Test
    void mergingWithItselfCountsEverythingTwice() {
        Moments moments = momentsOf(1, 2, 3);
        moments.merge(moments);
        assertThat(moments.summary()).isEqualTo(momentsOf(1, 2, 3, 1, 2, 3).summary());
    }

    @Test
    void noValuesGiveNoFigures() {
        assertThat(new Moments().summary())
                .isEqualTo(new Moments.Summary(0, Double.NaN, Double.NaN, Double.NaN, Double.NaN, Double.NaN));
    }

    @Test
    void oneValueHasAMeanButNoVariance() {
        assertThat(momentsOf(7).summary()).isEqualTo(new Moments.Summary(1, 7, Double.NaN, Double.NaN, 7, 7));
    }

    @ParameterizedTest
    @ValueSource(doubles = {Double.NaN, Double.POSITIVE_INFINITY, Double.NEGATIVE_INFINITY})
    void aReadingThatIsNoNumberIsRefused(double value) {
        assertThatIllegalArgumentException().isThrownBy(() -> new Moments().add(value));
    }

    static Moments momentsOf(double... values) {
        Moments moments = new Moments();
        for (double value : values) {
            moments.add(value);
        }
        return moments;
    }
}
