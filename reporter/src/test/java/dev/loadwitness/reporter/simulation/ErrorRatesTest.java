// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.runlog.Attachment;
import java.nio.file.Files;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** The short form of {@link ErrorRates}: few machines, the shortest shipped procedure, one fault. */
final class ErrorRatesTest {
    @TempDir
    Path folder;

    @Test
    void goodMachinesPassAndFaultyOnesDoNot() throws Exception {
        Path file = Path.of("..", "thresholds", "quick-check.yaml");
        ErrorRates.Tally good =
                ErrorRates.goodMachines(Attachment.of("quick-check.yaml", Files.readString(file)), 6, 9001, folder);
        assertThat(good.verdicts(Outcome.PASS)).isEqualTo(6);
        ErrorRates.Tally faulty = ErrorRates.faultyMachines(Scenario.RAILS_LIGHT, 3, 9001, folder);
        assertThat(faulty.verdicts(Outcome.FAIL)).isEqualTo(3);
    }

    /** Rule of three, exact: none of 200 leaves up to 1 − 0.05^(1/200) = 1.487 %. */
    @Test
    void noneOfTwoHundredLeavesOneAndAHalfPercent() {
        assertThat(ErrorRates.upperBound(0, 200)).isCloseTo(0.014867, within(1e-6));
    }
}
