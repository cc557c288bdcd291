// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvFileSource;
import org.junit.jupiter.params.provider.ValueSource;

final class QuantilesTest {

    @ParameterizedTest(name = "{0} {1}")
    @CsvFileSource(resources = "quantiles.csv")
    void quantilesMatchTables(double probability, Double degreesOfFreedom, double quantile, double tolerance) {
        double computed = degreesOfFreedom == null
                ? Quantiles.normal(probability)
                : Quantiles.studentT(probability, degreesOfFreedom);
        assertThat(computed).isCloseTo(quantile, within(tolerance));
    }

    @Test
    void studentNearsTheNormalWithManyDegreesOfFreedom() {
        assertThat(Quantiles.studentT(0.95, 1e7)).isCloseTo(Quantiles.normal(0.95), within(1e-6));
        assertThat(Quantiles.studentT(0.95, 1e300)).isEqualTo(Quantiles.normal(0.95));
        assertThat(Quantiles.studentT(0.05, Double.POSITIVE_INFINITY)).isEqualTo(Quantiles.normal(0.05));
    }

    /** One degree of freedom is Cauchy's distribution: tan(π(p − 1/2)). Half a degree checks that it need not be whole. */
    @Test
    void studentWithOneDegreeOfFreedomIsCauchy() {
        assertThat(Quantiles.studentT(0.975, 1)).isCloseTo(StrictMath.tan(Math.PI * 0.475), within(1e-9));
        assertThat(Quantiles.studentT(0.975, 1.5))
                .isBetween(Quantiles.studentT(0.975, 2), Quantiles.studentT(0.975, 1));
    }

    @ParameterizedTest
    @ValueSource(doubles = {Double.NaN, 0, -1})
    void tooFewDegreesOfFreedomGiveNoQuantile(double degreesOfFreedom) {
        assertThat(Quantiles.studentT(0.95, degreesOfFreedom)).isNaN();
    }

    @ParameterizedTest
    @ValueSource(doubles = {Double.NaN, 0, 1, -0.1})
    void certaintyIsNoProbabilityForAQuantile(double probability) {
        assertThatIllegalArgumentException().isThrownBy(() -> Quantiles.normal(probability));
        assertThatIllegalArgumentException().isThrownBy(() -> Quantiles.studentT(probability, 4));
    }
}
