// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Map;
import java.util.TreeMap;

/** Logs of many machines in many scenarios, the same bytes each time: what is judged before and after a rebuilding. */
public final class FrozenLogs {
    private static final int MACHINES = 8;
    private static final double LEAST_CHARGE = 0.5;
    private static final double MOST_CHARGE = 0.95;

    private FrozenLogs() {}

    /** Writes them below {@code folder} and gives each by a name that says what it is of. */
    public static Map<String, Path> write(Path folder) throws IOException {
        Map<String, Path> logs = new TreeMap<>();
        for (Scenario scenario : Scenario.values()) {
            // The hour-long ones stand in sample-runs/ once; here the short ones, on different machines.
            boolean isShort = scenario.onRails() || scenario.onParts() || scenario.isGuided();
            for (int machine = 1; isShort && machine <= MACHINES; machine++) {
                String name = scenario.word() + "/" + machine;
                Path place = Files.createDirectories(folder.resolve(name));
                SimulatedLog.write(
                        Simulation.of(scenario).on(Specimen.good(machine, LEAST_CHARGE, MOST_CHARGE)), place, "run");
                logs.put(name, place.resolve("run.jsonl"));
            }
        }
        return logs;
    }
}
