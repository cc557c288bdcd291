// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.procedure;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.Optional;
import org.junit.jupiter.api.Test;

final class RailPlanTest {
    private static Procedure shipped(String name) throws Exception {
        Path file = Path.of("..", "thresholds", name + ".yaml");
        return ProcedureReader.read(name, Files.readString(file, StandardCharsets.UTF_8));
    }

    private static Optional<JobSheet> sheet(String rail) throws Exception {
        return Optional.of(JobSheetReader.read(
                "sheet.yaml", "format: loadwitness-job-sheet/1\nticket: FBR-2026-0142\nrepaired-rail: " + rail + "\n"));
    }

    @Test
    void theRailOfTheSheetLengthensItsStageAndTheScreenSaysWhichAndWhy() throws Exception {
        RailPlan plan = RailPlan.of(shipped("gpu-power-repair"), sheet("graphics core"));

        assertThat(plan.procedure().duration()).isEqualTo(Duration.ofMinutes(162));
        assertThat(plan.lengthened())
                .contains("Longer for the repaired rail (graphics core): discrete-core 30 min instead of 15 min");
        assertThat(plan.hint()).isEmpty();
    }

    @Test
    void bothRailsLengthenTheirOwnStages() throws Exception {
        assertThat(RailPlan.of(shipped("gpu-power-repair"), sheet("graphics core, graphics memory"))
                        .lengthened()
                        .orElseThrow())
                .contains("discrete-core 30 min instead of 15 min, discrete-memory 30 min instead of 15 min");
    }

    @Test
    void aMisspeltRailIsRunAsWrittenWithTheWordThatWasMeant() throws Exception {
        Procedure written = shipped("gpu-power-repair");
        RailPlan plan = RailPlan.of(written, sheet("grafics-core"));

        assertThat(plan.procedure()).isEqualTo(written);
        assertThat(plan.lengthened()).isEmpty();
        assertThat(plan.hint().orElseThrow()).contains("'grafics-core'").contains("Did you mean graphics-core?");
    }

    @Test
    void anotherRailAndNoneAreSaidToChangeNothing() throws Exception {
        Procedure written = shipped("gpu-power-repair");

        assertThat(RailPlan.of(written, sheet("main 5 V")).hint().orElseThrow())
                .contains("'main 5 V'")
                .contains("graphics-core, graphics-memory")
                .doesNotContain("mean");
        assertThat(RailPlan.of(written, Optional.empty()).hint().orElseThrow()).contains("no job sheet names one");
    }

    @Test
    void aProcedureThatGivesNoRailAShareSaysNothing() throws Exception {
        RailPlan plan = RailPlan.of(shipped("quick-check"), sheet("graphics core"));

        assertThat(plan.lengthened()).isEmpty();
        assertThat(plan.hint()).isEmpty();
    }
}
