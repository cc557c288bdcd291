// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.procedure;

import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.procedure.GraphicsRail;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import dev.loadwitness.runlog.yaml.Measure;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.stream.Collectors;

/**
 * What the job sheet's repaired rail makes of a procedure, and the words for it.
 *
 * @param procedure as it is run
 * @param lengthened which stages take longer and why; empty if none does
 * @param hint what to look at where a rail could have been named and was not; empty where there is nothing to say
 */
public record RailPlan(Procedure procedure, Optional<String> lengthened, Optional<String> hint) {
    public static RailPlan of(Procedure written, Optional<JobSheet> sheet) {
        String rail = sheet.map(JobSheet::repairedRail).orElse("");
        Procedure planned = written.forRail(rail);
        List<String> longer = new ArrayList<>();
        for (int i = 0; i < planned.stages().size(); i++) {
            Stage before = written.stages().get(i);
            Stage now = planned.stages().get(i);
            if (!now.duration().equals(before.duration())) {
                longer.add(now.id() + " " + written(now) + " instead of " + written(before));
            }
        }
        if (!longer.isEmpty()) {
            return new RailPlan(
                    planned,
                    Optional.of("Longer for the repaired rail (" + rail + "): " + String.join(", ", longer)),
                    Optional.empty());
        }
        return new RailPlan(planned, Optional.empty(), hint(written, rail));
    }

    private static Optional<String> hint(Procedure written, String rail) {
        if (written.railsWithAShare().isEmpty()) {
            return Optional.empty();
        }
        String words =
                written.railsWithAShare().stream().map(GraphicsRail::word).collect(Collectors.joining(", "));
        if (rail.isEmpty()) {
            return Optional.of(written.name() + " loads a repaired rail longer; no job sheet names one (repaired-rail: "
                    + words + "), so every stage takes its ordinary time.");
        }
        return Optional.of("The job sheet's repaired-rail is '" + rail + "'; " + written.name()
                + " loads longer only for " + words + ", so every stage takes its ordinary time."
                + GraphicsRail.near(rail)
                        .filter(meant -> GraphicsRail.named(rail).isEmpty())
                        .map(meant -> " Did you mean " + meant.word() + "? Then end here, correct the sheet, and begin"
                                + " again.")
                        .orElse(""));
    }

    private static String written(Stage stage) {
        return Measure.DURATION.write(stage.duration().toNanos() / 1e9);
    }
}
