// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import java.util.Arrays;
import java.util.Random;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

class CusumTest {
    /** Montgomery, Introduction to Statistical Quality Control, example 9.1: target 10, K = 0.5, H = 5. */
    private static final double[] MONTGOMERY = {
        9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08, 9.37, 10.62,
        10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52
    };

    @Test
    void theSumsAreThoseOfMontgomerysTables() {
        Cusum cusum = new Cusum(10, 0.5, 5);
        double[] up = cusum.sums(true, MONTGOMERY);
        double[] down = cusum.sums(false, MONTGOMERY);
        assertThat(Arrays.copyOfRange(up, 0, 8))
                .containsExactly(new double[] {0, 0, 0, 1.16, 2.82, 2.50, 0.04, 1.00}, within(1e-9));
        assertThat(Arrays.copyOfRange(up, 22, 30))
                .containsExactly(new double[] {1.79, 2.79, 2.89, 3.47, 3.35, 4.47, 5.28, 5.30}, within(1e-9));
        assertThat(Arrays.copyOfRange(down, 0, 4)).containsExactly(new double[] {0.05, 1.56, 1.77, 0}, within(1e-9));
    }

    /** The same example: out of control at the 29th, the shift between the 22nd and the 23rd, the new mean 11.25. */
    @Test
    void theChangeIsDatedAndSizedAsByMontgomery() {
        Cusum.Change change = new Cusum(10, 0.5, 5).first(0, MONTGOMERY);
        assertThat(change.signal()).isEqualTo(28);
        assertThat(change.first()).isEqualTo(22);
        assertThat(change.level()).isCloseTo(11.25, within(0.01));
        assertThat(new Cusum(10, 0.5, 5).first(2, MONTGOMERY)).isNull();
    }

    /** NIST/SEMATECH e-Handbook 6.3.2.3, numbers from memory, sums recomputed: target 325, k = 0.3175, h = 4.1959. */
    @Test
    void theHandbooksExampleSignalsAtTheFourteenth() {
        double[] x = {
            324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625, 325.150,
            328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350
        };
        Cusum cusum = new Cusum(325, 0.3175, 4.1959);
        assertThat(cusum.sums(true, x)[12]).isCloseTo(3.0075, within(1e-9));
        assertThat(cusum.sums(true, x)[19]).isCloseTo(19.0350, within(1e-9));
        assertThat(cusum.sums(false, x)[7]).isCloseTo(0.7150, within(1e-9));
        assertThat(cusum.first(0, x).signal()).isEqualTo(13);
    }

    /** Lucas and Crosier 1982 (h = 4: 168), Montgomery (h = 5: 465): the approximation is within 2 % of either. */
    @ParameterizedTest
    @CsvSource({"0.5, 4, 168", "0.5, 5, 465"})
    void theAverageRunLengthIsThePublishedOne(double k, double h, double published) {
        assertThat(Cusum.averageRunLength(k, h)).isCloseTo(published, within(0.02 * published));
    }

    /** The design asked for 0.01 a stage; counted on seeded series, two standard deviations of the count allowed for. */
    @ParameterizedTest
    @CsvSource({"20, 0", "30, 0", "60, 0", "360, 0", "2000, 0", "60, 0.5", "360, 0.5", "360, 0.8", "2000, 0.8"})
    void aSeriesWithoutAChangeSeldomRaisesAnAlarm(int n, double correlation) {
        Random random = new Random(n);
        int trials = 100_000 / n + 1500;
        int alarms = 0;
        for (int trial = 0; trial < trials; trial++) {
            double[] x = AutoregressiveSeries.of(random, n, correlation);
            alarms += Cusum.forSeries(0.01, 0, x).first(0, x) == null ? 0 : 1;
        }
        double rate = (double) alarms / trials;
        assertThat(rate).isLessThan(0.01 + 2 * StrictMath.sqrt(0.01 / trials));
    }

    @Test
    void aShiftForATenthOfAnHourIsFound() {
        double[] x = AutoregressiveSeries.of(new Random(5), 360, 0);
        for (int i = 200; i < 236; i++) {
            x[i] -= 3;
        }
        Cusum.Change change = Cusum.forSeries(0.01, 2, x).first(2, x);
        assertThat(change.first()).isBetween(197, 203);
        assertThat(change.level()).isCloseTo(-3, within(1.0));
    }

    /** The median sits on one of the two levels; the other is the change. Neighbours differ as ever, so it is no noise. */
    @Test
    void aShiftInTheMiddleIsNotTakenForNoise() {
        double[] x = AutoregressiveSeries.of(new Random(6), 360, 0);
        for (int i = 170; i < 360; i++) {
            x[i] += 10;
        }
        assertThat(Cusum.forSeries(0.01, 5, x).first(5, x)).isNotNull();
    }

    /** Every second neighbour is of the other level; the scatter around either is 1. */
    @Test
    void theDeviationOfNeighboursIsNotMovedByLevelsThatAlternate() {
        double[] x = AutoregressiveSeries.of(new Random(7), 2000, 0);
        assertThat(Cusum.neighbourDeviation(x)).isCloseTo(1, within(0.1));
        for (int i = 0; i < x.length; i++) {
            x[i] += i / 4 % 2 * 100;
        }
        assertThat(Cusum.neighbourDeviation(x)).isBetween(0.9, 1.6);
    }

    @Test
    void aQuietSeriesIsJudgedByTheLeastShiftAlone() {
        double[] x = new double[60];
        Arrays.fill(x, 100);
        Arrays.fill(x, 40, 60, 104);
        assertThat(Cusum.forSeries(0.01, 5, x).first(5, x)).isNull();
        Arrays.fill(x, 40, 60, 106);
        assertThat(Cusum.forSeries(0.01, 5, x).first(5, x).first()).isEqualTo(40);
    }

    @Test
    void fewerThanTwentyValuesAreRefused() {
        assertThatIllegalArgumentException().isThrownBy(() -> Cusum.forSeries(0.01, 1, new double[19]));
    }
}
