// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.within;

import org.apache.commons.math3.distribution.NormalDistribution;
import org.apache.commons.math3.random.Well19937c;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

class ToleranceIntervalTest {
    /**
     * Computed by Gauss–Legendre quadrature and Brent's method with SciPy 1.17.1, another rule than ours. The same numbers to three
     * places stand in ISO 16269-6, two-sided, deviation unknown (95/95: 36.519, 5.077, 3.393, 2.965, 2.760, 2.555, 2.382, 2.234;
     * from memory).
     */
    @ParameterizedTest(name = "n {0}, {1}/{2}")
    @CsvSource({
        "2, 0.95, 0.95, 36.5192146",
        "5, 0.95, 0.95, 5.0768745",
        "10, 0.95, 0.95, 3.3934295",
        "11, 0.95, 0.95, 3.2727807",
        "15, 0.95, 0.95, 2.9649406",
        "20, 0.95, 0.95, 2.7603462",
        "30, 0.95, 0.95, 2.5548928",
        "50, 0.95, 0.95, 2.3815597",
        "100, 0.95, 0.95, 2.2338820",
        "43, 0.90, 0.99, 2.2228252",
        "10, 0.99, 0.99, 5.6101683",
        "10, 0.90, 0.95, 2.8563108"
    })
    void factorsMatchAnIndependentQuadrature(int n, double coverage, double confidence, double factor) {
        assertThat(ToleranceInterval.factor(n, coverage, confidence)).isCloseTo(factor, within(1e-6));
    }

    /** NIST/SEMATECH e-Handbook 7.2.6.3: n = 43, 90 % coverage, 99 % confidence; Howe's approximation 2.217 (from memory). */
    @Test
    void factorIsNearTheHandbooksApproximation() {
        assertThat(ToleranceInterval.factor(43, 0.9, 0.99)).isCloseTo(2.217, within(0.006));
    }

    @Test
    void intervalsOfTenHoldTheirShareAsOftenAsPromised() {
        NormalDistribution truth = new NormalDistribution(new Well19937c(20261125), 70, 2);
        int held = 0;
        int trials = 4000;
        double factor = ToleranceInterval.of(new double[] {1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, 0.95, 0.95)
                .factor();
        for (int i = 0; i < trials; i++) {
            Moments moments = new Moments();
            for (double value : truth.sample(10)) {
                moments.add(value);
            }
            ToleranceInterval interval = new ToleranceInterval(
                    10, moments.summary().mean(), moments.summary().standardDeviation(), factor);
            if (truth.cumulativeProbability(interval.high()) - truth.cumulativeProbability(interval.low()) >= 0.95) {
                held++;
            }
        }
        // Three standard deviations of a binomial share of 95 % in 4,000 trials are 1.03 %.
        assertThat((double) held / trials).isBetween(0.9397, 0.9603);
    }

    @Test
    void oneValueHasNoInterval() {
        assertThatThrownBy(() -> ToleranceInterval.of(new double[] {70}, 0.95, 0.95))
                .hasMessageContaining("at least 2");
    }
}
