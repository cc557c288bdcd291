// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import java.util.Random;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvFileSource;

final class EpisodeSamplingTest {

    @ParameterizedTest(name = "d {0}, p {1}")
    @CsvFileSource(resources = "episode-sampling.csv")
    void chanceOfMissingMatchesSimulation(double episode, double period, double share, double tolerance) {
        assertThat(EpisodeSampling.chanceMissed(episode, period)).isCloseTo(share, within(tolerance));
    }

    @Test
    void chanceOfMissingSeveralMatchesASimulationOfOurOwn() {
        Random random = new Random(7);
        int trials = 200_000;
        int missed = 0;
        for (int i = 0; i < trials; i++) {
            // Samples at whole seconds; three episodes of 0.4 s that begin anywhere.
            boolean none = true;
            for (int episode = 0; episode < 3; episode++) {
                double begin = random.nextDouble();
                none &= begin + 0.4 < 1;
            }
            missed += none ? 1 : 0;
        }
        double expected = EpisodeSampling.chanceAllMissed(0.4, 1, 3);
        assertThat(expected).isCloseTo(0.216, within(1e-12));
        assertThat((double) missed / trials).isCloseTo(expected, within(4 * Math.sqrt(0.216 * 0.784 / trials)));
    }

    @Test
    void episodeAsLongAsThePeriodIsNeverMissed() {
        assertThat(EpisodeSampling.chanceMissed(0.2, 0.2)).isZero();
        assertThat(EpisodeSampling.chanceMissed(5, 0.2)).isZero();
        assertThat(EpisodeSampling.chanceMissed(0, 0.2)).isEqualTo(1);
    }

    @Test
    void longestPeriodCatchesWithTheStatedChance() {
        double period = EpisodeSampling.longestPeriod(0.1, 0.8);
        assertThat(period).isCloseTo(0.125, within(1e-15));
        assertThat(EpisodeSampling.chanceMissed(0.1, period)).isCloseTo(0.2, within(1e-12));
    }

    @Test
    void nonsenseIsRefused() {
        assertThatIllegalArgumentException().isThrownBy(() -> EpisodeSampling.chanceMissed(-1, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> EpisodeSampling.chanceMissed(1, 0));
        assertThatIllegalArgumentException().isThrownBy(() -> EpisodeSampling.chanceMissed(Double.NaN, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> EpisodeSampling.chanceAllMissed(1, 1, 0));
        assertThatIllegalArgumentException().isThrownBy(() -> EpisodeSampling.longestPeriod(1, 0));
        assertThatIllegalArgumentException().isThrownBy(() -> EpisodeSampling.longestPeriod(1, 1.1));
    }
}
