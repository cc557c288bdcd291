// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import java.util.Random;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvFileSource;
import org.junit.jupiter.params.provider.CsvSource;

final class CorrelatedMeanTest {

    @ParameterizedTest(name = "{0}")
    @CsvFileSource(resources = "nist-strd-univariate.csv")
    void lagOneAutocorrelationMatchesNistCertifiedValues(
            String set,
            int n,
            double mean,
            double deviation,
            double lagOne,
            double meanRel,
            double deviationRel,
            double lagOneRel) {
        double[] data = NistDataSets.named(set);
        assertThat(CorrelatedMean.autocorrelation(data)).isCloseTo(lagOne, within(Math.abs(lagOne) * lagOneRel));
        CorrelatedMean all = CorrelatedMean.of(data);
        assertThat(all.lagOne()).isEqualTo(CorrelatedMean.autocorrelation(data));
        assertThat(all.mean()).isCloseTo(mean, within(Math.abs(mean) * meanRel));
        assertThat(all.standardDeviation()).isCloseTo(deviation, within(deviation * deviationRel));
    }

    /**
     * By hand: r = 0.535199668621283, plus (1 + 4r)/100 is 0.566607655366, plus √((1 − that²)/100) is 0.649006; 100·(1 − that)/(1 + that)
     * = 21.28515.
     */
    @Test
    void effectiveCountOfMichelsonsReadingsIsTheOneComputedByHand() {
        CorrelatedMean mean = CorrelatedMean.of(NistDataSets.named("Michelso"));
        assertThat(mean.effectiveCount()).isCloseTo(21.28515, within(1e-4));
        assertThat(mean.standardError()).isCloseTo(0.0790105478190518 / Math.sqrt(20.28515), within(1e-7));
    }

    /**
     * First-order autoregressions of known correlation, seeded: stated standard errors are on average above the true scatter of the
     * means, since the correlation is taken higher by its own standard error; without that they are below it in all rows but the first
     * and last, 0.77 for 20 values correlated by 0.7 where nothing is corrected.
     */
    @ParameterizedTest(name = "rho {0}, {1} values")
    @CsvSource({"0.0, 20", "0.5, 20", "0.7, 20", "0.5, 60", "0.9, 600"})
    void statedStandardErrorIsOnAverageAboveTheTrueScatterOfMeans(double rho, int n) {
        Random random = new Random(20261125);
        Moments means = new Moments();
        Moments stated = new Moments();
        for (int trial = 0; trial < 4000; trial++) {
            double[] series = new double[n];
            double x = random.nextGaussian() / Math.sqrt(1 - rho * rho);
            for (int i = 0; i < n; i++) {
                series[i] = x;
                x = rho * x + random.nextGaussian();
            }
            CorrelatedMean mean = CorrelatedMean.of(series);
            means.add(mean.mean());
            stated.add(mean.standardError());
        }
        double ratio = stated.summary().mean() / means.summary().standardDeviation();
        assertThat(ratio).isBetween(1.1, 1.8);
    }

    @Test
    void negativeCorrelationNeverClaimsMoreValuesThanThereAre() {
        CorrelatedMean mean = CorrelatedMean.of(NistDataSets.named("NumAcc2"));
        assertThat(mean.effectiveCount()).isEqualTo(1001);
    }

    @Test
    void trendLeavesHardlyAnyEffectiveValues() {
        double[] ramp = new double[100];
        for (int i = 0; i < ramp.length; i++) {
            ramp[i] = i;
        }
        assertThat(CorrelatedMean.of(ramp).effectiveCount()).isEqualTo(1);
    }

    @Test
    void fewValuesHaveAMeanButNoStandardError() {
        CorrelatedMean mean = CorrelatedMean.of(1, 2, 3, 4, 5, 6, 7);
        assertThat(mean.count()).isEqualTo(7);
        assertThat(mean.mean()).isEqualTo(4);
        assertThat(mean.effectiveCount()).isNaN();
        assertThat(mean.standardError()).isNaN();
        assertThat(CorrelatedMean.of(1, 2, 3, 4, 5, 6, 7, 8).standardError()).isPositive();
    }

    @Test
    void equalValuesHaveNoCorrelationAndNoError() {
        CorrelatedMean mean = CorrelatedMean.of(0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1);
        assertThat(mean.lagOne()).isNaN();
        assertThat(mean.mean()).isEqualTo(0.1);
        assertThat(mean.standardError()).isZero();
        assertThat(mean.effectiveCount()).isEqualTo(8);
    }

    @Test
    void oneValueOrNoneHasNoCorrelation() {
        assertThat(CorrelatedMean.autocorrelation()).isNaN();
        assertThat(CorrelatedMean.autocorrelation(3)).isNaN();
        assertThat(CorrelatedMean.of().mean()).isNaN();
        assertThatIllegalArgumentException().isThrownBy(() -> CorrelatedMean.of(1, Double.NaN));
    }
}
