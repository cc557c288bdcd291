// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.EventKind;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import org.apache.commons.math3.stat.regression.SimpleRegression;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

/** That each run does what its story says, told from its readings; and that the judge comes to the outcome expected. */
final class ScenarioTest {
    private static final String SOAK = "discrete-soak";

    @TempDir
    Path folder;

    @ParameterizedTest
    @EnumSource
    void isJudgedAsItsStorySaysFromASmallLog(Scenario scenario) throws IOException {
        SimulatedLog.write(Simulation.of(scenario), folder, "run");
        Path log = folder.resolve("run.jsonl");
        Judgement judged = Judge.judge(Judge.Request.of(log));
        assertThat(judged.verdict().outcome().word())
                .as(judged.verdict().sentence())
                .isEqualTo(scenario.expected());
        assertThat(Files.size(log)).isLessThan(1_500_000);
    }

    @ParameterizedTest
    @EnumSource(names = {"CLEAN_PASS", "THIRD_ATTEMPT"})
    void goodRepairHoldsItsRatedPowerWellBelowTheSlowdown(Scenario scenario) {
        Played played = Played.of(scenario);
        assertThat(played.close().orElseThrow().reason()).isEqualTo("completed");
        assertThat(mean(played.during(SOAK, LaptopSensors.GPU_POWER))).isBetween(146.0, 151.0);
        assertThat(max(played.during(SOAK, LaptopSensors.GPU_TEMPERATURE))).isBetween(70.0, 78.0);
        assertThat(max(played.during(SOAK, LaptopSensors.GPU_HEAT))).isZero();
        assertThat(Arrays.stream(played.values("battery.bat0.charge")).max().orElseThrow())
                .isEqualTo(0.95);
    }

    @Test
    void badContactMakesTheClockFallByHalfAgainAndAgain() {
        Played played = Played.of(Scenario.BAD_CONTACT);
        double[] clock = played.during(SOAK, LaptopSensors.GPU_CLOCK);
        double[] hot = played.during(SOAK, LaptopSensors.GPU_HEAT);
        long episodes = 0;
        for (int i = 1; i < hot.length; i++) {
            episodes += hot[i] > hot[i - 1] ? 1 : 0;
        }
        assertThat(episodes).isGreaterThanOrEqualTo(5);
        assertThat(Arrays.stream(clock).min().orElseThrow()).isLessThan(0.6 * max(clock));
        assertThat(max(played.during(SOAK, LaptopSensors.GPU_TEMPERATURE)))
                .isBetween(DiscreteGpu.SLOWDOWN_CELSIUS, 92.0);
    }

    @Test
    void stillRisingCrossesNothingYetWarmsByMoreThanAKelvinInTenMinutes() {
        Played played = Played.of(Scenario.STILL_RISING);
        double[] soak = played.during(SOAK, LaptopSensors.GPU_TEMPERATURE);
        double[] last = Arrays.copyOfRange(soak, soak.length - 300, soak.length);
        SimpleRegression line = new SimpleRegression();
        for (int i = 0; i < last.length; i++) {
            line.addData(i / 300.0, last[i]);
        }
        assertThat(line.getSlope()).isGreaterThan(1.2);
        assertThat(max(soak)).isLessThanOrEqualTo(83);
        assertThat(max(played.during(SOAK, LaptopSensors.GPU_HEAT))).isZero();
    }

    @ParameterizedTest
    @EnumSource(names = {"POWER_CUT", "FIRST_ATTEMPT", "SECOND_ATTEMPT"})
    void deathComesColdAndSteadyAndWithoutAWord(Scenario scenario) {
        Played played = Played.of(scenario);
        double end = played.samples().get(played.samples().size() - 1).at().seconds();
        double[] minute = played.values(LaptopSensors.GPU_TEMPERATURE, end - 60, end + 1);
        assertThat(played.close()).isEmpty();
        assertThat(scenario.diesSuddenly()).isTrue();
        assertThat(max(minute)).isLessThanOrEqualTo(DiscreteGpu.SLOWDOWN_CELSIUS - 10);
        assertThat(max(minute) - Arrays.stream(minute).min().orElseThrow()).isLessThanOrEqualTo(1);
        if (scenario == Scenario.POWER_CUT) {
            assertThat(end).isBetween(21 * 60.0, 22 * 60.0);
        }
    }

    @Test
    void stuckSensorStandsStillThroughAPowerStep() {
        Played played = Played.of(Scenario.STUCK_SENSOR);
        assertThat(Arrays.stream(played.values(LaptopSensors.GPU_TEMPERATURE)).distinct())
                .hasSize(1);
        assertThat(max(played.during("idle", LaptopSensors.GPU_POWER))).isLessThan(20);
        assertThat(mean(played.during(SOAK, LaptopSensors.GPU_POWER))).isGreaterThan(140);
    }

    @Test
    void lostAdapterEndsTheRunByASafetyStopInMinute31() {
        Played played = Played.of(Scenario.ADAPTER_LOST);
        assertThat(played.close().orElseThrow().reason()).isEqualTo("safety-stop");
        assertThat(played.close().orElseThrow().at().seconds()).isBetween(30 * 60.0, 31 * 60.0);
        assertThat(played.events(EventKind.ADAPTER_OFF)).hasSize(1);
        assertThat(played.events(EventKind.SAFETY_STOP))
                .singleElement()
                .satisfies(e -> assertThat(e.text("why")).isEqualTo("adapter"));
        assertThat(played.events(EventKind.STAGE_END))
                .last()
                .satisfies(e -> assertThat(e.text("why")).isEqualTo("stopped"));
        double[] battery = played.values("battery.bat0.power");
        assertThat(battery[battery.length - 1]).isNegative();
    }

    @Test
    void idleSoakReportsWorkAtATrickleAndDrawsTwentyWatts() {
        Played played = Played.of(Scenario.IDLE_SOAK);
        double[] work = played.during(SOAK, "gpu-discrete.work.verified");
        assertThat(mean(played.during(SOAK, LaptopSensors.GPU_POWER))).isBetween(18.0, 22.0);
        for (int i = 1; i < work.length; i++) {
            assertThat(work[i]).isGreaterThan(work[i - 1]);
        }
    }

    @Test
    void limitFallsOnMainsAndTheLoadMeetsTheLowerOne() {
        Played played = Played.of(Scenario.ADAPTER_NOT_RECOGNISED);
        assertThat(Arrays.stream(played.values(LaptopSensors.ADAPTER)).distinct())
                .containsExactly(1.0);
        assertThat(played.events(EventKind.LIMIT_CHANGED)).singleElement().satisfies(e -> {
            assertThat(e.number("from")).isEqualTo(150);
            assertThat(e.number("to")).isEqualTo(80);
        });
        assertThat(mean(played.values(LaptopSensors.GPU_POWER, 1500, 3600))).isBetween(77.0, 80.5);
        assertThat(played.close().orElseThrow().reason()).isEqualTo("completed");
    }

    @Test
    void regulatedGpuSitsAtItsTargetBySheddingWatts() {
        Played played = Played.of(Scenario.REGULATED);
        double[] late = played.values(LaptopSensors.GPU_TEMPERATURE, 900, 3600);
        assertThat(mean(late)).isBetween(DiscreteGpu.TARGET_CELSIUS - 1.5, DiscreteGpu.TARGET_CELSIUS + 0.5);
        assertThat(max(late)).isLessThan(DiscreteGpu.SLOWDOWN_CELSIUS);
        assertThat(mean(played.values(LaptopSensors.GPU_POWER, 900, 3600))).isBetween(120.0, 145.0);
        assertThat(mean(played.values(LaptopSensors.GPU_HEAT, 900, 3600))).isGreaterThan(0.95);
    }

    @Test
    void thirdAttemptNamesTheTwoThatDiedAndTheJudgeCountsThem() throws IOException {
        EarlierAttempt first = SimulatedLog.write(Simulation.of(Scenario.FIRST_ATTEMPT), folder, "first");
        EarlierAttempt second = SimulatedLog.write(
                Simulation.of(Scenario.SECOND_ATTEMPT).withEarlier(List.of(first)), folder, "second");
        SimulatedLog.write(Simulation.of(Scenario.THIRD_ATTEMPT).withEarlier(List.of(first, second)), folder, "third");
        Verdict verdict = Judge.judge(new Judge.Request(
                        folder.resolve("third.jsonl"),
                        Optional.empty(),
                        Optional.empty(),
                        List.of(folder.resolve("first.jsonl"), folder.resolve("second.jsonl")),
                        false))
                .verdict();
        assertThat(verdict.header().earlier()).containsExactly(first, second);
        assertThat(first.end()).isEqualTo("open");
        assertThat(Files.readString(folder.resolve("first.jsonl"))).contains(first.lastChain());
        assertThat(verdict.attempts()).hasSize(3).allMatch(Verdict.Attempt::shown);
        assertThat(verdict.outcome().word()).isEqualTo("pass");
    }

    private static double mean(double[] values) {
        return Arrays.stream(values).average().orElseThrow();
    }

    private static double max(double[] values) {
        return Arrays.stream(values).max().orElseThrow();
    }
}
