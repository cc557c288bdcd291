// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.within;

import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvFileSource;
import org.junit.jupiter.params.provider.CsvSource;

final class FailureRateTest {
    @ParameterizedTest(name = "{0} failures at {1}")
    @CsvFileSource(resources = "mtbf-lower-factors.csv")
    void lowerBoundMatchesTheHandbooksFormula(int failures, double confidence, double factor) {
        assertThat(FailureRate.lowerMeanTimeBetweenFailures(1, failures, confidence))
                .isCloseTo(factor, within(5e-7));
    }

    /** NIST/SEMATECH e-Handbook 8.4.5.1: 800 h, 2 failures, 90 % two-sided; its own R file prints 127.0690. */
    @Test
    void handbooksWorkedExampleIsReproduced() {
        assertThat(FailureRate.lowerMeanTimeBetweenFailures(800, 2, 0.95)).isCloseTo(127.0690, within(5e-5));
    }

    /** NIST/SEMATECH e-Handbook 8.3.1.1: a 200 h objective at 90 %; example from memory, recomputed. */
    @ParameterizedTest
    @CsvSource({"0, 460.517", "3, 1336.16", "4, 1598.72"})
    void testLengthMatchesTheHandbooksExample(int failures, double hours) {
        assertThat(FailureRate.requiredTime(200, failures, 0.90)).isCloseTo(hours, within(hours * 1e-5));
    }

    /** The worked sentence of the design: an hour gives 95 % only for faults every 20 minutes or oftener. */
    @Test
    void anHourShowsAFaultOfEveryTwentyMinutesWithNinetyFivePercent() {
        assertThat(FailureRate.probabilityOfShowing(60, 20)).isCloseTo(1 - Math.exp(-3), within(1e-12));
    }

    /** Three times the mean of two observed intervals gives 84 %, not 95 %: 1 − (1 + 3/2)⁻². */
    @Test
    void aMeanThatIsItselfGuessedShowsLess() {
        assertThat(FailureRate.probabilityOfShowingGuessedFault(60, 20, 2)).isCloseTo(0.84, within(1e-12));
        assertThat(FailureRate.probabilityOfShowingGuessedFault(60, 20, 1_000_000))
                .isCloseTo(FailureRate.probabilityOfShowing(60, 20), within(1e-5));
    }

    @Test
    void anEpisodeLongerThanThePeriodIsNeverMissed() {
        assertThat(FailureRate.probabilityOfMissing(0.3, 1)).isCloseTo(0.7, within(1e-12));
        assertThat(FailureRate.probabilityOfMissing(1.5, 1)).isZero();
    }

    @Test
    void nonsenseIsRefused() {
        assertThatThrownBy(() -> FailureRate.lowerMeanTimeBetweenFailures(0, 0, 0.95))
                .isInstanceOf(IllegalArgumentException.class);
        assertThatThrownBy(() -> FailureRate.lowerMeanTimeBetweenFailures(1, -1, 0.95))
                .isInstanceOf(IllegalArgumentException.class);
        assertThatThrownBy(() -> FailureRate.lowerMeanTimeBetweenFailures(1, 0, 1))
                .isInstanceOf(IllegalArgumentException.class);
    }
}
