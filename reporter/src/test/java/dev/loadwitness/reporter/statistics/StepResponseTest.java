// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.within;

import java.util.Arrays;
import java.util.Random;
import java.util.function.DoubleUnaryOperator;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

class StepResponseTest {
    private static double[] everySecond(int seconds) {
        double[] x = new double[seconds];
        Arrays.setAll(x, i -> i + 0.5);
        return x;
    }

    private static StepResponse of(int seconds, double resolution, DoubleUnaryOperator celsius) {
        double[] x = everySecond(seconds);
        return StepResponse.of(x, Arrays.stream(x).map(celsius).toArray(), resolution);
    }

    private static DoubleUnaryOperator first(double end, double rise, double tau) {
        return t -> end - rise * StrictMath.exp(-t / tau);
    }

    private static DoubleUnaryOperator noisy(DoubleUnaryOperator curve, double deviation) {
        Random random = new Random(42);
        return t -> curve.applyAsDouble(t) + deviation * random.nextGaussian();
    }

    @Test
    void aRiseOfFirstOrderIsFound() {
        StepResponse found = of(3600, 0.1, noisy(first(74, 30, 300), 0.2));
        assertThat(found.told()).isEqualTo(StepResponse.Told.YES);
        assertThat(found.order()).isEqualTo(1);
        assertThat(found.plateau()).isCloseTo(74, within(0.05));
        assertThat(found.timeConstantSeconds()).isCloseTo(300, within(5.0));
        assertThat(found.fastSeconds()).isNaN();
        assertThat(found.halfWidth()).isLessThan(0.6);
    }

    @Test
    void twoTimeConstantsAreFoundWhereTheyShow() {
        StepResponse found =
                of(3600, 0.1, noisy(t -> 74 - 25 * StrictMath.exp(-t / 40) - 12 * StrictMath.exp(-t / 600), 0.2));
        assertThat(found.order()).isEqualTo(2);
        assertThat(found.plateau()).isCloseTo(74, within(0.1));
        assertThat(found.fastSeconds()).isCloseTo(40, within(3.0));
        assertThat(found.timeConstantSeconds()).isCloseTo(600, within(20.0));
    }

    @Test
    void coolingIsARiseUpsideDown() {
        StepResponse found = of(1800, 0.1, noisy(t -> 38 + 40 * StrictMath.exp(-t / 200), 0.2));
        assertThat(found.told()).isEqualTo(StepResponse.Told.YES);
        assertThat(found.plateau()).isCloseTo(38, within(0.1));
        assertThat(found.timeConstantSeconds()).isCloseTo(200, within(5.0));
    }

    /** The trap: a slow second term that one exponential takes for the noise of its end. */
    @Test
    void aSlowTermThatHasNotComeToRestIsNotTakenForTheEnd() {
        StepResponse found =
                of(3600, 1, t -> Math.rint(80 - 30 * StrictMath.exp(-t / 60) - 12 * StrictMath.exp(-t / 2400)));
        assertThat(found.told()).isEqualTo(StepResponse.Told.WINDOW_TOO_SHORT);
        assertThat(found.plateau()).isNaN();
        assertThat(found.halfWidth()).isNaN();
        assertThat(found.timeConstantSeconds()).isGreaterThan(1200);
    }

    @ParameterizedTest
    @ValueSource(doubles = {2.5, 3.5})
    void lessThanThreeTimeConstantsDoNotTell(double timeConstants) {
        StepResponse found = of(3600, 0.1, noisy(first(74, 30, 3600 / timeConstants), 0.05));
        assertThat(found.told())
                .isEqualTo(timeConstants < 3 ? StepResponse.Told.WINDOW_TOO_SHORT : StepResponse.Told.YES);
    }

    @Test
    void aSteadyRampNeverTells() {
        assertThat(of(3600, 1, t -> Math.rint(60 + t / 360)).told()).isEqualTo(StepResponse.Told.WINDOW_TOO_SHORT);
    }

    @Test
    void whatDoesNotMoveStandsAtItsPlateauByOneStepAndMore() {
        StepResponse found = of(3600, 1, t -> 72);
        assertThat(found.told()).isEqualTo(StepResponse.Told.YES);
        assertThat(found.plateau()).isEqualTo(72);
        assertThat(found.halfWidth()).isBetween(1.5, 2.0);
    }

    /** Nothing moves by a whole step within ten minutes of a rise that takes an hour. */
    @Test
    void whatDoesNotMoveForTenMinutesTellsNothing() {
        assertThat(of(600, 1, t -> 72).told()).isEqualTo(StepResponse.Told.WINDOW_TOO_SHORT);
    }

    @Test
    void aHandfulOfPointsIsTooFew() {
        assertThat(of(23, 0.1, t -> 70).told()).isEqualTo(StepResponse.Told.TOO_FEW);
        double[] holes = new double[600];
        Arrays.fill(holes, Double.NaN);
        assertThat(StepResponse.of(everySecond(600), holes, 1).told()).isEqualTo(StepResponse.Told.TOO_FEW);
    }

    @Test
    void holesChangeLittle() {
        DoubleUnaryOperator curve = noisy(first(74, 30, 300), 0.2);
        StepResponse found = of(3600, 0.1, t -> t % 100 < 30 ? Double.NaN : curve.applyAsDouble(t));
        assertThat(found.plateau()).isCloseTo(74, within(0.1));
    }

    @Test
    void theSameReadingsGiveTheSameBits() {
        assertThat(of(3600, 1, noisy(first(74, 30, 300), 0.5))).isEqualTo(of(3600, 1, noisy(first(74, 30, 300), 0.5)));
    }

    @Test
    void unequalArraysAreRefused() {
        assertThatThrownBy(() -> StepResponse.of(new double[30], new double[31], 1))
                .isInstanceOf(IllegalArgumentException.class);
    }
}
