// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import java.util.Random;
import org.junit.jupiter.api.Test;

class CoupledHeatTest {
    private static final double[][] TRUE = {{0.40, 0.15}, {0.12, 0.60}};
    private static final double[][] WATTS = {{150, 15}, {10, 45}, {145, 45}, {9, 8}};

    private static double[][] rises(double[][] watts, double ambientOff, Random random, double deviation) {
        double[][] rises = new double[watts.length][2];
        for (int s = 0; s < watts.length; s++) {
            for (int i = 0; i < 2; i++) {
                rises[s][i] = TRUE[i][0] * watts[s][0]
                        + TRUE[i][1] * watts[s][1]
                        + ambientOff
                        + (random == null ? 0 : deviation * random.nextGaussian());
            }
        }
        return rises;
    }

    private static double[][] errors(int states, double u) {
        double[][] errors = new double[states][2];
        for (double[] row : errors) {
            row[0] = u;
            row[1] = u;
        }
        return errors;
    }

    @Test
    void exactRisesGiveTheResistancesBack() {
        CoupledHeat found =
                CoupledHeat.of(WATTS, rises(WATTS, 0, null, 0), errors(4, 1), 0).orElseThrow();
        for (int i = 0; i < 2; i++) {
            assertThat(found.resistance()[i]).containsExactly(TRUE[i], within(1e-12));
        }
        assertThat(found.condition()).isBetween(1.0, 3.0);
    }

    /** By hand: two states that load one part each with 100 W and 50 W; u = 1 K/100 W and 1 K/50 W. */
    @Test
    void errorsOfSeparateStatesAreTheRisesErrorOverTheWatts() {
        double[][] watts = {{100, 0}, {0, 50}};
        CoupledHeat found =
                CoupledHeat.of(watts, rises(watts, 0, null, 0), errors(2, 1), 0).orElseThrow();
        assertThat(found.standardErrors()[0]).containsExactly(new double[] {0.01, 0.02}, within(1e-12));
        assertThat(found.condition()).isCloseTo(1, within(1e-12));
        // The room's error is the same in both: with u = 1 K it doubles each variance.
        CoupledHeat room =
                CoupledHeat.of(watts, rises(watts, 0, null, 0), errors(2, 1), 1).orElseThrow();
        assertThat(room.standardErrors()[0][0]).isCloseTo(0.01 * Math.sqrt(2), within(1e-12));
    }

    @Test
    void statedErrorsAreThoseThatRepeatedRunsShow() {
        Random random = new Random(7);
        double squares = 0;
        int runs = 4000;
        double stated = 0;
        for (int k = 0; k < runs; k++) {
            double room = random.nextGaussian();
            CoupledHeat found = CoupledHeat.of(WATTS, rises(WATTS, room, random, 1.5), errors(4, 1.5), 1)
                    .orElseThrow();
            double off = found.resistance()[0][1] - TRUE[0][1];
            squares += off * off;
            stated = found.standardErrors()[0][1];
        }
        assertThat(Math.sqrt(squares / runs) / stated).isBetween(0.96, 1.04);
    }

    @Test
    void powersInProportionTellNothingApart() {
        double[][] watts = {{100, 50}, {120, 60}};
        assertThat(CoupledHeat.of(watts, rises(watts, 0, null, 0), errors(2, 1), 0))
                .isEmpty();
        assertThat(CoupledHeat.of(new double[][] {{100, 50}}, new double[][] {{50, 40}}, errors(1, 1), 0))
                .isEmpty();
        double[][] idle = {{100, 0}, {120, 0}};
        assertThat(CoupledHeat.of(idle, rises(idle, 0, null, 0), errors(2, 1), 0))
                .isEmpty();
    }
}
