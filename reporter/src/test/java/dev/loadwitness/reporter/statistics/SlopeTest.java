// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import java.util.Random;
import java.util.stream.IntStream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

class SlopeTest {
    private static final int PER_BLOCK = 20;

    /**
     * A rise of 1 K over the window, in seeded first-order scatter of half a kelvin; {@code step} is the sensor's, 0 for one
     * that shows every change. One least digit over the window is added, as temperature-settled does.
     */
    @ParameterizedTest
    @CsvSource({
        "60, 0, 0, 0.94", "60, 0.9, 0, 0.94", "60, 0.98, 0, 0.94", "60, 0.995, 0, 0.94", "20, 0.9, 0, 0.93",
        "60, 0, 1, 0.95", "60, 0.9, 1, 0.95", "60, 0.98, 1, 0.95", "60, 0.995, 1, 0.95", "20, 0.98, 1, 0.95"
    })
    void theUpperBoundIsAboveTheTrueSlope(int blocks, double correlation, double step, double atLeast) {
        Random random = new Random(blocks);
        int trials = 1200;
        int above = 0;
        for (int trial = 0; trial < trials; trial++) {
            double[] noise = AutoregressiveSeries.of(random, blocks * PER_BLOCK, correlation);
            double offset = random.nextDouble();
            double[] means = new double[blocks];
            for (int i = 0; i < noise.length; i++) {
                double truth = 70 + offset + (double) i / noise.length;
                double read = truth + 0.5 * noise[i];
                means[i / PER_BLOCK] += (step == 0 ? read : step * Math.floor(read / step)) / PER_BLOCK;
            }
            Slope slope = Slope.of(IntStream.range(0, blocks).asDoubleStream().toArray(), means);
            above += slope.upper(0.95) + step / blocks >= 1.0 / blocks ? 1 : 0;
        }
        assertThat((double) above / trials).isGreaterThanOrEqualTo(atLeast);
    }

    /** Readings that stick to one digit all the time: no scatter at all, and the digit is what may be hidden. */
    @Test
    void aReadingThatStandsStillHasNoScatterAndNoSlope() {
        double[] level = new double[40];
        java.util.Arrays.fill(level, 71);
        Slope slope = Slope.of(IntStream.range(0, 40).asDoubleStream().toArray(), level);
        assertThat(slope.slope()).isZero();
        assertThat(slope.standardError()).isZero();
        assertThat(slope.upper(0.95)).isZero();
    }

    /** NIST StRD Norris, certified slope; its 36 values are calibrations, not neighbours in time, but the line is the same. */
    @Test
    void theLineIsThatOfNorris() {
        double[] x = LinearRegressionTest.column(LinearRegressionTest.NORRIS, 0);
        double[] y = LinearRegressionTest.column(LinearRegressionTest.NORRIS, 1);
        Slope slope = Slope.of(x, y);
        assertThat(slope.slope()).isCloseTo(1.00211681802045, within(1e-13));
        double independent = slope.standardError() * StrictMath.sqrt(slope.effectiveCount() / slope.count());
        assertThat(independent).isCloseTo(0.429796848199937E-03, within(1e-15));
    }

    @Test
    void fewerThanTwentyBlocksAreRefused() {
        assertThatIllegalArgumentException().isThrownBy(() -> Slope.of(new double[19], new double[19]));
    }
}
