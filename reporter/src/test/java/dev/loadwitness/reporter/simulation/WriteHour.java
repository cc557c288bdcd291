// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;

/**
 * Writes the clean pass at one sample a second, for {@code benchmarks/certificate_cost.py} and, with every criterion that fits its
 * stages, {@code benchmarks/judge_hour.py}: {@code FOLDER [every-criterion]}.
 */
public final class WriteHour {
    private WriteHour() {}

    public static void main(String[] args) throws IOException {
        StringBuilder text = new StringBuilder(SamplePapers.PROCEDURE.text().replace("sampling: 2 s", "sampling: 1 s"));
        if (args.length > 1) {
            for (Criterion criterion : Criterion.values()) {
                // Cold starts need a stage that asks for them.
                if (criterion != Criterion.COLD_STARTS && !text.toString().contains("\n  " + criterion.word() + ":")) {
                    text.append("  ").append(criterion.word()).append(":\n    mandatory: no\n");
                }
            }
        }
        Attachment hour = Attachment.of("gpu-soak-hour.yaml", text.toString());
        SimulatedLog.write(Simulation.of(Scenario.CLEAN_PASS).following(hour), Path.of(args[0]), "run");
    }
}
