// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.within;

import java.util.Arrays;
import java.util.Locale;
import java.util.Random;
import java.util.stream.IntStream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/** Published results as the notes on check values give them; "printed" ones have the digits of the book. */
class MannKendallTest {
    private static double[] numbers(String text) {
        return Arrays.stream(text.strip().split(" +", -1))
                .mapToDouble(Double::parseDouble)
                .toArray();
    }

    private static MannKendall of(String times, String values) {
        double[] y = numbers(values);
        return MannKendall.of(
                times.isBlank() ? IntStream.range(0, y.length).asDoubleStream().toArray() : numbers(times), y);
    }

    /** USEPA Unified Guidance 2009, example 17-6 (sulfate), with ties in value. */
    @Test
    void sulfateOfTheUnifiedGuidance() {
        MannKendall mk = of(
                "89.6 89.8 90.1 90.3 90.6 90.8 91.1 91.3 91.6 91.8 92.1 92.6 93.1 93.6 94.1 94.6 95.1 95.6 95.8 96.1"
                        + " 96.3 96.6 96.8",
                "480 450 490 520 485 510 510 530 510 560 560 540 590 550 600 700 570 610 650 620 830 720 590");
        assertThat(mk.s()).isEqualTo(194);
        assertThat(mk.variance()).isCloseTo(1428.0, within(1e-9));
        assertThat(mk.z()).isCloseTo(5.107322, within(1e-6));
        assertThat(mk.twoSidedProbability()).isCloseTo(3.267574e-07, within(1e-12));
        assertThat(mk.theilSen()).isCloseTo(26.6666667, within(1e-6));
        assertThat(mk.intercept()).isCloseTo(-1909.3333333, within(1e-5));
        assertThat(mk.theilSenInterval(0.95)).containsExactly(new double[] {20.0, 35.71182}, within(5e-5));
    }

    /** The same guidance, example 17-7 (sodium). */
    @Test
    void sodiumOfTheUnifiedGuidance() {
        MannKendall mk = of("89.6 90.1 90.8 91.1 92.1 93.1 94.1 95.6 96.1 96.3", "56 53 51 55 52 60 62 59 61 63");
        assertThat(mk.s()).isEqualTo(25);
        assertThat(mk.variance()).isCloseTo(125, within(1e-9));
        assertThat(mk.z()).isCloseTo(2.146625, within(1e-6));
        assertThat(mk.twoSidedProbability()).isCloseTo(0.03182313, within(1e-8));
        assertThat(mk.theilSen()).isCloseTo(1.3333333, within(1e-6));
        assertThat(mk.theilSenInterval(0.95)).containsExactly(new double[] {0.3992083, 2.3333333}, within(1e-6));
    }

    @ParameterizedTest(name = "{0}")
    @CsvSource({
        "'Gilbert 1987 p. 211', '', 10 15 14 20, 4, 8.6667, 1e-4",
        "'Gilbert 1987 ex. 16.3', 1 1 1 2 3 3 4 5, 10 22 21 30 22 30 40 40, 19, 58.0952, 1e-4",
        "'Gilbert 1987 p. 211 ties', '', 23 24 0 6 0 24 24 0 23, -1, 83.66667, 1e-5",
        "'Gilbert 1987 ex. 17.1 site 1', 1 1 2 3, 8 10 12 15, 5, 7.667, 1e-3",
        "'Gilbert 1987 ex. 17.1 site 2', 1 2 2 3, 15 20 18 20, 4, 6.8333, 1e-4",
        "'van Belle and Hughes 1984 p. 129', '', 10 14 14 14 17 22 22 23 27 27, 40, 119.3333, 1e-4",
        "'van Belle and Hughes 1984 p. 136', 1 1 1 1 2 2 2 3 3 3, 1.0 1.0 1.5 1.7 1.6 1.7 1.8 1.7 2.2 2.3, 26, 105.4333,"
                + " 1e-4",
        "'falls', '', 12 8 9 4 7 5 3 1, -22, 65.3333, 1e-4",
    })
    void tiesInValueAndInTimeAreAllowedForAsInTheBooks(
            String source, String times, String values, long s, double variance, double tolerance) {
        MannKendall mk = of(times, values);
        assertThat(mk.s()).isEqualTo(s);
        assertThat(mk.variance()).isCloseTo(variance, within(tolerance));
    }

    /** Gilbert 1987, example 16.3: 24 slopes, median 5.5. */
    @Test
    void pairsOfOneTimeHaveNoSlope() {
        MannKendall mk = of("1 1 1 2 3 3 4 5", "10 22 21 30 22 30 40 40");
        assertThat(mk.slopes()).hasSize(24);
        assertThat(mk.theilSen()).isEqualTo(5.5);
    }

    @Test
    void equalValuesShowNoTrend() {
        MannKendall mk = of("", "5 5 5 5 5");
        assertThat(mk.z()).isZero();
        assertThat(mk.twoSidedProbability()).isEqualTo(1);
        assertThat(mk.theilSen()).isZero();
    }

    /**
     * Why it decides nothing: steady runs whose readings resemble their neighbours from second to second, in whole kelvins. The main
     * method prints the table of {@code docs/computation.md}.
     */
    @ParameterizedTest(name = "means of {0} s, {2} from second to second")
    @CsvSource({
        "1, 600, 0, 0.02, 0.09",
        "1, 600, 0.9, 0.5, 0.8",
        "10, 3600, 0.9, 0.15, 0.27",
        "60, 3600, 0.9, 0.03, 0.12"
    })
    void onReadingsThatResembleEachOtherItFindsTrendsThatAreNotThere(
            int block, int seconds, double correlation, double least, double most) {
        assertThat(alarms(block, seconds, correlation, 300)).isBetween(least, most);
    }

    public static void main(String... arguments) {
        for (double correlation : new double[] {0, 0.3, 0.6, 0.9, 0.98}) {
            System.out.printf(
                    Locale.ROOT,
                    "| %s | %.0f %% | %.0f %% | %.0f %% |%n",
                    correlation,
                    100 * alarms(1, 600, correlation, 2000),
                    100 * alarms(10, 3600, correlation, 2000),
                    100 * alarms(60, 3600, correlation, 2000));
        }
    }

    private static double alarms(int block, int seconds, double correlation, int trials) {
        Random random = new Random(34);
        int found = 0;
        for (int trial = 0; trial < trials; trial++) {
            double[] x = AutoregressiveSeries.of(random, seconds, correlation);
            double[] means = new double[x.length / block];
            for (int i = 0; i < means.length * block; i++) {
                means[i / block] += Math.rint(72.3 + 1.2 * x[i]) / block;
            }
            double[] times = IntStream.range(0, means.length).asDoubleStream().toArray();
            found += MannKendall.of(times, means).twoSidedProbability() < 0.05 ? 1 : 0;
        }
        return (double) found / trials;
    }

    @Test
    void moreThanSixHundredValuesAreRefused() {
        assertThatIllegalArgumentException().isThrownBy(() -> MannKendall.of(new double[601], new double[601]));
    }
}
