// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import java.util.Random;
import org.apache.commons.math3.distribution.FDistribution;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvFileSource;
import org.junit.jupiter.params.provider.CsvSource;

final class FailureRateTest {

    @ParameterizedTest(name = "{0} failures, {1}")
    @CsvFileSource(resources = "mtbf-two-sided-factors.csv")
    void lowerBoundMatchesTheHandbooksTwoSidedFactors(int failures, double confidence, double factor) {
        double bound = FailureRate.meanTimeLowerBound(1, failures, (1 + confidence) / 2);
        assertThat(failures == 0 ? bound : bound * failures).isCloseTo(factor, within(0.00005));
    }

    @ParameterizedTest(name = "{0} failures, {1}")
    @CsvFileSource(resources = "mtbf-one-sided-bounds.csv")
    void lowerBoundMatchesOneSidedTable(int failures, double confidence, double bound) {
        assertThat(FailureRate.meanTimeLowerBound(1, failures, confidence)).isCloseTo(bound, within(5e-7));
    }

    @ParameterizedTest(name = "{0} failures, {1}")
    @CsvFileSource(resources = "mtbf-test-length-factors.csv")
    void requiredTimeMatchesTheHandbooksTestLengthTable(int failures, double confidence, double factor) {
        assertThat(FailureRate.requiredTime(1, failures, confidence)).isCloseTo(factor, within(0.00005));
    }

    /** NIST/SEMATECH e-Handbook 8.4.5.1 and its R file: 800 h, 2 failures, 90 % two-sided: 127.0690 h. */
    @Test
    void eightHundredHoursWithTwoFailuresGiveTheHandbooksBound() {
        assertThat(FailureRate.meanTimeLowerBound(800, 2, 0.95)).isCloseTo(127.06896827, within(1e-7));
    }

    /** Handbook 8.3.1.1: 200 h to be shown at 90 %: 1598.72 h with 4 failures allowed, 460.517 h with none. */
    @ParameterizedTest
    @CsvSource({"4, 1598.72, 0.005", "0, 460.517, 0.0005"})
    void twoHundredHourObjectiveNeedsTheHandbooksTestLength(int failures, double hours, double tolerance) {
        assertThat(FailureRate.requiredTime(200, failures, 0.9)).isCloseTo(hours, within(tolerance));
    }

    @ParameterizedTest
    @CsvSource({"24, 8.0114", "48, 16.0228", "72, 24.0342"})
    void cleanDaysGiveAThirdOfTheirLength(double hours, double bound) {
        assertThat(FailureRate.meanTimeLowerBound(hours, 0, 0.95)).isCloseTo(bound, within(0.00005));
    }

    /** The closed form without failures and the general one are the same curve: r = 0 through the chi-square quantile. */
    @Test
    void closedFormWithoutFailuresAgreesWithChiSquare() {
        for (double confidence : new double[] {0.5, 0.9, 0.95, 0.999}) {
            assertThat(FailureRate.requiredTime(1, 0, confidence))
                    .isCloseTo(Quantiles.chiSquared(confidence, 2) / 2, within(1e-9));
        }
    }

    @Test
    void cleanHourShowsOnlyFaultsThatStrikeEveryTwentyMinutes() {
        assertThat(FailureRate.chanceSeen(60, 20)).isCloseTo(0.950213, within(5e-7));
        assertThat(FailureRate.chanceSeen(60, 60)).isCloseTo(0.632121, within(5e-7));
        assertThat(FailureRate.requiredTime(20, 0, 0.95)).isCloseTo(59.9146, within(0.00005));
    }

    @Test
    void threeTimesTheMeanOfTwoIntervalsShowsEightyFourPercentNotNinetyFive() {
        assertThat(FailureRate.chanceSeenFromObserved(60, 20, 2)).isCloseTo(0.84, within(1e-12));
    }

    /** The next interval over the mean of n earlier ones follows Fisher's F with 2 and 2n degrees of freedom. */
    @ParameterizedTest
    @CsvSource({"0.3, 1", "1, 2", "3, 2", "3, 5", "4, 40"})
    void chanceFromObservedIntervalsIsFishersF(double multiple, int intervals) {
        double f = new FDistribution(null, 2, 2.0 * intervals).cumulativeProbability(multiple);
        assertThat(FailureRate.chanceSeenFromObserved(multiple * 17, 17, intervals))
                .isCloseTo(f, within(1e-12));
    }

    @Test
    void chanceFromObservedIntervalsIsWhatSimulationGives() {
        Random random = new Random(42);
        int trials = 200_000;
        int seen = 0;
        for (int i = 0; i < trials; i++) {
            double mean = (interval(random) + interval(random)) / 2;
            if (interval(random) < 3 * mean) {
                seen++;
            }
        }
        // Four standard errors of a share of 0.84.
        assertThat((double) seen / trials).isCloseTo(0.84, within(4 * Math.sqrt(0.84 * 0.16 / trials)));
    }

    @ParameterizedTest
    @CsvSource({"1, 0.95", "2, 0.84", "2, 0.95", "5, 0.5"})
    void requiredTimeTurnsTheChanceRound(int intervals, double confidence) {
        double time = FailureRate.requiredTimeFromObserved(20, intervals, confidence);
        assertThat(FailureRate.chanceSeenFromObserved(time, 20, intervals)).isCloseTo(confidence, within(1e-12));
        assertThat(FailureRate.requiredTimeFromObserved(20, 2, 0.84)).isCloseTo(60, within(1e-9));
    }

    @Test
    void manyObservedIntervalsComeNearAKnownMean() {
        assertThat(FailureRate.chanceSeenFromObserved(60, 20, 1_000_000))
                .isLessThan(FailureRate.chanceSeen(60, 20))
                .isCloseTo(FailureRate.chanceSeen(60, 20), within(1e-6));
    }

    @Test
    void noTimeShowsNothing() {
        assertThat(FailureRate.meanTimeLowerBound(0, 0, 0.95)).isZero();
        assertThat(FailureRate.chanceSeen(0, 20)).isZero();
        assertThat(FailureRate.chanceSeenFromObserved(0, 20, 2)).isZero();
    }

    @Test
    void nonsenseIsRefused() {
        assertThatIllegalArgumentException().isThrownBy(() -> FailureRate.meanTimeLowerBound(-1, 0, 0.95));
        assertThatIllegalArgumentException().isThrownBy(() -> FailureRate.meanTimeLowerBound(Double.NaN, 0, 0.95));
        assertThatIllegalArgumentException().isThrownBy(() -> FailureRate.meanTimeLowerBound(1, -1, 0.95));
        assertThatIllegalArgumentException().isThrownBy(() -> FailureRate.meanTimeLowerBound(1, 0, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> FailureRate.requiredTime(0, 0, 0.95));
        assertThatIllegalArgumentException().isThrownBy(() -> FailureRate.chanceSeen(1, 0));
        assertThatIllegalArgumentException().isThrownBy(() -> FailureRate.chanceSeenFromObserved(1, 1, 0));
        assertThatIllegalArgumentException().isThrownBy(() -> FailureRate.requiredTimeFromObserved(1, 1, 0));
    }

    private static double interval(Random random) {
        return -StrictMath.log1p(-random.nextDouble());
    }
}
