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

class HampelIdentifierTest {
    /** Examples of R 4.2's help page on mad, whose constant has five digits: 1.4826. */
    @ParameterizedTest
    @CsvSource({"1 2 3 4 5 6 7 8 9, 5, 2.9652", "1 2 3 4 5 6 7 8 100, 5, 2.9652"})
    void medianAndScaleAreThoseOfR(String values, double median, double scale) {
        double[] x = Arrays.stream(values.split(" ", -1))
                .mapToDouble(Double::parseDouble)
                .toArray();
        HampelIdentifier usual = HampelIdentifier.of(0.01, x);
        assertThat(usual.median()).isEqualTo(median);
        assertThat(usual.scale()).isCloseTo(scale, within(1e-5));
    }

    @Test
    void theMedianOfAnEvenNumberIsBetweenTheTwoInTheMiddle() {
        assertThat(HampelIdentifier.median(1, 2, 3, 5, 7, 8)).isEqualTo(4);
    }

    @Test
    void theScaleIsOneOverTheNormalUpperQuartile() {
        assertThat(HampelIdentifier.NORMAL_SCALE).isCloseTo(1 / Quantiles.normal(0.75), within(1e-12));
    }

    /** Seeded series, independent and of first order: a whole series raises an alarm no oftener than asked. */
    @ParameterizedTest
    @CsvSource({"8, 0", "12, 0", "30, 0", "60, 0", "180, 0", "360, 0", "2000, 0", "60, 0.7", "360, 0.7", "360, 0.9"})
    void aSeriesWithoutAnythingUnusualSeldomRaisesAnAlarm(int n, double correlation) {
        Random random = new Random(n);
        int trials = 200_000 / n + 2000;
        int alarms = 0;
        for (int trial = 0; trial < trials; trial++) {
            double[] x = series(random, n, correlation);
            HampelIdentifier usual = HampelIdentifier.of(0.01, x);
            alarms += Arrays.stream(x).anyMatch(v -> usual.standsOut(v, 0)) ? 1 : 0;
        }
        // Two standard deviations of the count itself are allowed for.
        double allowed = 0.01 + 2 * StrictMath.sqrt(0.01 / trials);
        assertThat((double) alarms / trials).isLessThan(allowed);
    }

    private static double[] series(Random random, int n, double correlation) {
        double[] x = new double[n];
        double before = random.nextGaussian();
        for (int i = 0; i < n; i++) {
            before = correlation * before + StrictMath.sqrt(1 - correlation * correlation) * random.nextGaussian();
            x[i] = before;
        }
        return x;
    }

    /** Why not three standard deviations on single seconds: an hour of nothing unusual has some ten of them. */
    @Test
    void aThreeSigmaFilterFindsTenDipsInAnHourOfNothing() {
        Random random = new Random(3);
        int dips = 0;
        for (int hour = 0; hour < 100; hour++) {
            double[] x = series(random, 3600, 0);
            HampelIdentifier usual = HampelIdentifier.of(0.01, x);
            for (double v : x) {
                dips += Math.abs(v - usual.median()) > 3 * usual.scale() ? 1 : 0;
            }
        }
        assertThat(dips / 100.0).isBetween(8.0, 12.0);
    }

    @Test
    void aDipOfTenScalesStandsOutOfAnHour() {
        double[] x = series(new Random(1), 360, 0);
        x[200] -= 10;
        HampelIdentifier usual = HampelIdentifier.of(0.01, x);
        assertThat(usual.standsOut(x[200], 0)).isTrue();
        assertThat(usual.standsOut(x[200], 20)).isFalse();
    }

    @Test
    void ofMoreThanHalfEqualValuesTheLeastDeviationDecides() {
        HampelIdentifier usual = HampelIdentifier.of(0.01, 5, 5, 5, 5, 5, 5, 5, 6);
        assertThat(usual.scale()).isZero();
        assertThat(usual.standsOut(6, 2)).isFalse();
        assertThat(usual.standsOut(6, 1)).isTrue();
    }

    @Test
    void fewerThanEightValuesAreRefused() {
        assertThatIllegalArgumentException().isThrownBy(() -> HampelIdentifier.of(0.01, 1, 2, 3, 4, 5, 6, 7));
    }
}
