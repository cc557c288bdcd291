// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.comparison;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.reporter.criteria.Figure.Quantity;
import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Judgement;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class ComparisonTest {
    private static final String MACHINE = "AWK17-004711";

    @TempDir
    Path folder;

    private Case run(LogBuilder log) throws IOException {
        Judgement judged = Judge.judge(Judge.Request.of(log.write(folder)));
        return new Case(
                judged.scan(), judged.verdict().procedure(), judged.verdict().jobSheet());
    }

    /** A flicker of one step about {@code celsius}, at {@code watts}. */
    private static LogBuilder machine(String runId, double celsius, double watts) {
        return LogBuilder.gpuSoak(900, "throttle", "mandatory: yes")
                .runId(runId.repeat(32))
                .serial(MACHINE)
                .curve("gpu.temperature", m -> celsius + Math.floor(m.seconds()) % 2)
                .curve("gpu.power", m -> m.loaded() ? watts : 15);
    }

    private static Difference find(Comparison comparison, Quantity quantity) {
        return comparison.differences().stream()
                .filter(d -> d.first().quantity() == quantity)
                .findFirst()
                .orElseThrow();
    }

    /** By hand: both 140 W, 80.5 − 72.5 K apart, so 8/140 = 0.0571 K/W; calibration of sensor and meter cancel. */
    @Test
    void calibrationOfOneMachinesSensorCancels() throws Exception {
        Comparison c = Comparison.ofRuns(run(machine("a", 80, 140)), run(machine("b", 72, 140)));
        Difference plateau = find(c, Quantity.PLATEAU);
        assertThat(plateau.difference().orElseThrow().value()).isCloseTo(-8, within(0.1));
        assertThat(plateau.cancelled()).singleElement().asString().contains("calibration of gpu.temperature");
        double scatters = Math.hypot(
                own(plateau.first().estimate().orElseThrow()),
                own(plateau.second().estimate().orElseThrow()));
        assertThat(plateau.difference().orElseThrow().standardUncertainty()).isCloseTo(scatters, within(1e-9));
        assertThat(plateau.toldApart()).isTrue();
        Difference resistance = find(c, Quantity.THERMAL_RESISTANCE);
        assertThat(resistance.difference().orElseThrow().value()).isCloseTo(-0.0571, within(0.001));
        // u² = (u₁² + u₂² + 1² + 1²)/140² + (0.025·0.0571)²: the rooms are two, the meter one.
        assertThat(resistance.difference().orElseThrow().standardUncertainty())
                .isCloseTo(
                        Math.sqrt((scatters * scatters + 2) / (140 * 140) + Math.pow(0.025 * 0.0571, 2)), within(1e-5));
        assertThat(c.notes()).anyMatch(n -> n.contains("one machine") && n.contains("cancels"));
    }

    private static double own(dev.loadwitness.reporter.statistics.Estimate e) {
        return e.contributions().entrySet().stream()
                .filter(s -> s.getKey().startsWith("scatter"))
                .mapToDouble(java.util.Map.Entry::getValue)
                .sum();
    }

    @Test
    void calibrationOfTwoMachinesDoesNotCancel() throws Exception {
        Comparison c = Comparison.ofRuns(
                run(machine("a", 74, 140)), run(machine("b", 72, 140).serial("AWK17-009999")));
        Difference plateau = find(c, Quantity.PLATEAU);
        assertThat(plateau.cancelled()).isEmpty();
        assertThat(plateau.difference().orElseThrow().standardUncertainty()).isGreaterThan(Math.sqrt(8));
        assertThat(plateau.toldApart()).isFalse();
    }

    @Test
    void machinesThatWithholdTheirSerialNumberAreNotTakenForOne() throws Exception {
        Comparison c = Comparison.ofRuns(
                run(machine("a", 80, 140).withheld("serial")),
                run(machine("b", 72, 140).withheld("serial")));
        assertThat(find(c, Quantity.PLATEAU).cancelled()).isEmpty();
        assertThat(c.notes()).anyMatch(n -> n.contains("do not tell which"));
    }

    @Test
    void whatDidNotChangeIsNotToldApartAndTheCountIsStated() throws Exception {
        Comparison c = Comparison.ofRuns(run(machine("a", 72, 140)), run(machine("b", 72, 140)));
        assertThat(c.toldApart()).isZero();
        // Plateau, resistance, power, work rate, three causes, interruptions; no clock in this log.
        assertThat(c.compared()).isEqualTo(8);
        assertThat(c.expectedByChance()).isEqualTo("0.4");
        assertThat(find(c, Quantity.CLOCK_HELD).why()).contains("the clock was not read");
    }

    @Test
    void timeHeldBackIsKnownToTheSamplesAtItsEnds() throws Exception {
        LogBuilder hot =
                machine("a", 72, 140).curve("gpu.throttle.heat", m -> m.seconds() >= 300 && m.seconds() < 330 ? 1 : 0);
        Difference d = find(Comparison.ofRuns(run(hot), run(machine("b", 72, 140))), Quantity.HEAT_TIME);
        assertThat(d.difference().orElseThrow().value()).isCloseTo(-30, within(1e-6));
        assertThat(d.difference().orElseThrow().standardUncertainty()).isCloseTo(Math.sqrt(1 / 6.0), within(1e-9));
        assertThat(d.toldApart()).isTrue();
    }

    @Test
    void oneInterruptionLessProvesNothing() throws Exception {
        LogBuilder died = machine("a", 72, 140).restarts(600, "boot-1");
        Difference d = find(Comparison.ofRuns(run(died), run(machine("b", 72, 140))), Quantity.INTERRUPTIONS);
        assertThat(d.difference().orElseThrow().value()).isEqualTo(-1);
        assertThat(d.toldApart()).isFalse();
    }

    @Test
    void aSecondRunThatIsTheEarlierOneIsPointedOut() throws Exception {
        Case later = run(machine("a", 72, 140).begun("2026-11-25T08:00:00Z"));
        Case earlier = run(machine("b", 72, 140).begun("2026-11-24T08:00:00Z"));
        assertThat(Comparison.ofRuns(later, earlier).notes())
                .anyMatch(n -> n.startsWith("The second run began before the first"));
        assertThat(Comparison.ofRuns(earlier, later).notes()).noneMatch(n -> n.contains("began before"));
    }

    @Test
    void stagesThatDoNotAlignAreNamed() throws Exception {
        LogBuilder more = machine("b", 72, 140)
                .stage("ramp", 60, "loads: [gpu-ramp], gpu: gpu-discrete", dev.loadwitness.runlog.Role.GPU_DISCRETE);
        Comparison c = Comparison.ofRuns(run(machine("a", 72, 140)), run(more));
        assertThat(c.notes()).anyMatch(n -> n.contains("procedures differ") && n.contains("soak"));
        assertThat(c.notes()).anyMatch(n -> n.contains("ramp (only the second run has it)"));
    }

    @Test
    void runsWithoutACommonLoadAreRefused() throws Exception {
        LogBuilder other =
                LogBuilder.laptop().idle("idle", 30).soak("other", 60).runId("b".repeat(32));
        Case a = run(machine("a", 72, 140));
        Case b = run(other);
        assertThatThrownBy(() -> Comparison.ofRuns(a, b))
                .isInstanceOf(NotComparableException.class)
                .hasMessageContaining("soak (only the first run has it)")
                .hasMessageContaining("--stages");
    }

    @Test
    void twoStagesOfOneRunShareSensorAndRoom() throws Exception {
        LogBuilder log = machine("a", 72, 140)
                .soak("again", 900)
                .curve("gpu.temperature", m -> (m.stage().equals("again") ? 76 : 72) + Math.floor(m.seconds()) % 2);
        Case run = run(log);
        Comparison c = Comparison.ofStages(run, "soak", run, "again");
        assertThat(find(c, Quantity.THERMAL_RESISTANCE).cancelled())
                .anyMatch(s -> s.startsWith("room"))
                .anyMatch(s -> s.contains("gpu.temperature"));
        assertThat(find(c, Quantity.PLATEAU).stages()).isEqualTo("soak → again");
        assertThatThrownBy(() -> Comparison.ofStages(run, "soak", run, "nowhere"))
                .hasMessageContaining("No stage 'nowhere'")
                .hasMessageContaining("soak, again");
        assertThatThrownBy(() -> Comparison.ofStages(run, "idle", run, "again"))
                .hasMessageContaining("Nothing is loaded");
    }
}
