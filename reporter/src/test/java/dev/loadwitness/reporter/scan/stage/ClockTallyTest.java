// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.file.line.Place;
import org.junit.jupiter.api.Test;

class ClockTallyTest {
    private static At at(double seconds) {
        return new At(new Place(1, 0, 0), 0, seconds);
    }

    private static ClockTally held(double... megahertz) {
        ClockTally tally = new ClockTally(at(0));
        for (int i = 1; i <= 400; i++) {
            tally.add(at(i), 1, 1e6 * megahertz[i % megahertz.length], 1, 140, 150, false);
        }
        tally.finish(at(401));
        return tally;
    }

    @Test
    void theStepIsTheDistanceToTheNearestOtherClockOfTheStage() {
        ClockTally tally = held(1890, 1905, 1905, 1905, 1950);
        assertThat(tally.heldHertz()).isEqualTo(1952.5e6); // a tenth of the time is at the highest
        assertThat(tally.stepHertz()).isEqualTo(45e6);
        assertThat(held(1890, 1905, 1905).stepHertz()).isEqualTo(15e6);
    }

    @Test
    void aClockThatNeverChangedIsKnownToOneBin() {
        assertThat(held(1905).stepHertz()).isEqualTo(5e6);
        assertThat(new ClockTally(at(0)).stepHertz()).isNaN();
    }
}
