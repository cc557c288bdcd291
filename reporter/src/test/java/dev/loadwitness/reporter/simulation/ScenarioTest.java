// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

final class ScenarioTest {
    @TempDir
    Path folder;

    @ParameterizedTest
    @EnumSource
    void isJudgedAsItsStorySays(Scenario scenario) throws IOException {
        SimulatedLog.write(Simulation.of(scenario), folder, "run");
        Judgement judged = Judge.judge(Judge.Request.of(folder.resolve("run.jsonl")));
        System.out.println(scenario + " " + judged.verdict().outcome() + ": "
                + judged.verdict().sentence());
        judged.verdict()
                .findings()
                .forEach(f -> System.out.println(
                        "   " + f.criterion() + " " + f.outcome() + " " + f.measured() + " " + f.because()));
        assertThat(judged.verdict().outcome().word()).isEqualTo(scenario.expected());
    }
}
