// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.runlog.Attachment;
import java.io.IOException;
import java.nio.file.Path;

/** Writes the clean pass at one sample a second, for {@code benchmarks/certificate_cost.py}: {@code FOLDER}. */
public final class WriteHour {
    private WriteHour() {}

    public static void main(String[] args) throws IOException {
        Attachment hour = Attachment.of(
                "gpu-soak-hour.yaml", SamplePapers.PROCEDURE.text().replace("sampling: 2 s", "sampling: 1 s"));
        SimulatedLog.write(Simulation.of(Scenario.CLEAN_PASS).following(hour), Path.of(args[0]), "run");
    }
}
