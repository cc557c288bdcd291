// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

final class ThermalNetworkTest {
    private static final double AMBIENT = 21;
    private static final double RESISTANCE = 0.5;
    private static final double CAPACITY = 100;
    private static final double WATTS = 80;
    private static final double STEP = 0.1;

    private static ThermalNetwork oneLump() {
        ThermalNetwork heat = new ThermalNetwork(AMBIENT, CAPACITY);
        heat.connectToAmbient(0, 1 / RESISTANCE);
        return heat;
    }

    private static void run(ThermalNetwork heat, double seconds, double... watts) {
        for (long i = 0; i < Math.round(seconds / STEP); i++) {
            heat.step(STEP, watts);
        }
    }

    /** Fractions 1 − e^(−t/τ) for t = 1 … 5 τ, six decimals, recomputed with SciPy (the project's list, section E). */
    @ParameterizedTest(name = "{0} tau")
    @CsvSource({"1, 0.632121", "2, 0.864665", "3, 0.950213", "4, 0.981684", "5, 0.993262"})
    void oneLumpFollowsTheFirstOrderResponse(int timeConstants, double fraction) {
        ThermalNetwork heat = oneLump();
        run(heat, timeConstants * RESISTANCE * CAPACITY, WATTS);
        assertThat((heat.celsius(0) - AMBIENT) / (WATTS * RESISTANCE)).isCloseTo(fraction, within(6e-7));
    }

    @ParameterizedTest(name = "{0} tau")
    @CsvSource({"1, 0.632121", "2, 0.864665", "3, 0.950213"})
    void stickyIntegerSensorShowsTheSameResponseWithinItsSteps(int timeConstants, double fraction) {
        ThermalNetwork heat = oneLump();
        Quantiser sensor = new Quantiser(1, 0.2);
        double read = Double.NaN;
        for (long i = 0; i < timeConstants * Math.round(RESISTANCE * CAPACITY / STEP); i++) {
            heat.step(STEP, WATTS);
            read = sensor.read(heat.celsius(0));
        }
        assertThat(read).isEqualTo(Math.rint(read));
        assertThat(read).isCloseTo(AMBIENT + WATTS * RESISTANCE * fraction, within(0.7));
    }

    @Test
    void stickySensorHoldsItsReadingUntilTheValueIsClearlyPastTheMiddle() {
        Quantiser sensor = new Quantiser(1, 0.2);
        assertThat(sensor.read(50.4)).isEqualTo(50);
        assertThat(sensor.read(50.65)).isEqualTo(50);
        assertThat(sensor.read(50.75)).isEqualTo(51);
        assertThat(sensor.read(50.35)).isEqualTo(51);
        assertThat(sensor.read(50.25)).isEqualTo(50);
    }

    @Test
    void steadyStateIsAmbientPlusTheSumOfResistanceTimesPower() {
        // die --0.2 K/W-- sink --0.3 K/W-- room; 100 W into the die, 20 W into the sink.
        ThermalNetwork heat = new ThermalNetwork(AMBIENT, 20, 200);
        heat.connect(0, 1, 1 / 0.2);
        heat.connectToAmbient(1, 1 / 0.3);
        run(heat, 3600, 100, 20);
        assertThat(heat.celsius(1)).isCloseTo(AMBIENT + 0.3 * 120, within(1e-6));
        assertThat(heat.celsius(0)).isCloseTo(AMBIENT + 0.3 * 120 + 0.2 * 100, within(1e-6));
        assertThat(heat.wattsToAmbient()).isCloseTo(120, within(1e-6));
    }

    @Test
    void whatIsPutInIsStoredOrHasLeft() {
        ThermalNetwork heat = new ThermalNetwork(AMBIENT, 20, 200, 900);
        heat.connect(0, 1, 5);
        heat.connect(1, 2, 0.4);
        heat.connectToAmbient(1, 3);
        heat.connectToAmbient(2, 1.5);
        double in = 0;
        double out = 0;
        for (int i = 0; i < 20_000; i++) {
            double watts = i % 700 < 400 ? 150 : 12;
            double before = heat.wattsToAmbient();
            heat.step(STEP, watts, 5, 20);
            out += STEP * (before + heat.wattsToAmbient()) / 2;
            in += STEP * (watts + 25);
        }
        assertThat(heat.storedJoules() + out).isCloseTo(in, within(1e-5 * in));
    }
}
