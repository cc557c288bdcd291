// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.List;
import org.junit.jupiter.api.Test;

/** A short form of the trial whose table stands in {@code docs/computation.md}. */
class PlateauTrialTest {
    private static final List<PlateauTrial.Tally> TALLIES = PlateauTrial.run(150, PlateauTrial.SEED);

    @Test
    void intervalsContainThePlateauOfMachinesThatAreNoExponential() {
        for (PlateauTrial.Tally row : TALLIES) {
            assertThat(row.covered).as(row.toString()).isGreaterThanOrEqualTo((int) Math.floor(0.93 * row.told));
        }
    }

    @Test
    void theScatterAboutTheCurveAloneWouldNot() {
        int told = TALLIES.stream().mapToInt(row -> row.told).sum();
        int covered = TALLIES.stream().mapToInt(row -> row.coveredByScatter).sum();
        assertThat(covered).isLessThan(told / 2);
    }

    @Test
    void anHourIsEnoughToTellForMostAndToWithinThreeKelvin() {
        int machines = 0;
        int told = 0;
        for (PlateauTrial.Tally row : TALLIES) {
            if (row.minutes == 60 && row.slowestTo <= 1200) {
                machines += row.machines;
                told += row.told;
                assertThat(row.medianHalfWidth()).as(row.toString()).isLessThan(3);
            }
        }
        assertThat(told).isGreaterThan(machines * 3 / 4);
    }
}
