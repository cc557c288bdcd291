// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

class ThermalResistanceTest {
    private static final String BAND = ", at-least: 0.3 K/W, at-most: 0.5 K/W";

    @TempDir
    Path folder;

    private static LogBuilder log(WarmLogs machine, String settings) {
        return machine.log().criterion("thermal-resistance", "mandatory: no" + settings);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.THERMAL_RESISTANCE);
    }

    private static String shared(Finding f) {
        return f.evidence().stream()
                .filter(e -> e.place().equals("shared heatsink"))
                .map(Evidence::text)
                .findFirst()
                .orElseThrow();
    }

    /** By hand: (0.35·100 + 0.15·15)/100 = 0.3725 K/W; u² ≈ ((0.6² + 2² + 1²)/100² + (0.3725·0.025)²), U ≈ 0.05. */
    @Test
    void riseOverWattsIsJudgedAgainstTheBand() throws Exception {
        Finding f = judge(log(new WarmLogs().soak("soak", 1500, 100, 15), BAND));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isIn("0.372 K/W", "0.373 K/W");
        assertThat(f.uncertainty()).isIn("0.048 K/W", "0.049 K/W", "0.050 K/W", "0.051 K/W");
        assertThat(f.limit()).isEqualTo("0.300 to 0.500 K/W");
        assertThat(f.margin()).isIn("+0.072 K/W", "+0.073 K/W");
    }

    @ParameterizedTest(name = "{0} K/W: {1}")
    @CsvSource({
        "0.6, FAIL, more than its like",
        "0.5, INCONCLUSIVE, too close",
        "0.2, FAIL, cooler than its like can be"
    })
    void outsideTheBandFailsAndAtItsEndsNothingIsDecided(double contact, Outcome outcome, String says)
            throws Exception {
        Finding f = judge(log(new WarmLogs().gpuContact(contact).soak("soak", 1500, 100, 15), BAND));
        assertThat(f.outcome()).isEqualTo(outcome);
        assertThat(f.because()).contains(says);
    }

    @Test
    void withoutABandItIsReportedAndNotJudged() throws Exception {
        Finding f = judge(log(new WarmLogs().soak("soak", 1500, 100, 15), ""));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.mandatory()).isFalse();
        assertThat(f.measured()).endsWith(" K/W");
        assertThat(f.because()).contains("reported, not judged");
        assertThat(f.conformity()).isEmpty();
    }

    @Test
    void withoutTheRoomsTemperatureItIsNotMeasured() throws Exception {
        assertThat(judge(log(new WarmLogs().soak("soak", 1500, 100, 15), BAND).withoutAmbient())
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void heldBackForHeatItIsNotMeasured() throws Exception {
        Finding f = judge(log(new WarmLogs().soak("soak", 1500, 100, 15), BAND)
                .curve("gpu.throttle.heat", m -> m.loaded() ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("held back for heat");
    }

    @Test
    void coolingIsASecondSightOfTheTimeConstant() throws Exception {
        WarmLogs machine = new WarmLogs().soak("soak", 1500, 100, 15);
        LogBuilder log = log(machine, BAND);
        log.idle("cool-down", 1200);
        LogBuilder warm = log.curve(
                "gpu.temperature",
                m -> m.stage().equals("cool-down")
                        ? Math.rint(10 * (30 + 30 * StrictMath.exp(-m.intoStage() / 120))) / 10
                        : 60 - 35 * StrictMath.exp(-m.intoStage() / 150));
        assertThat(judge(warm).evidence().stream().map(Evidence::text))
                .anyMatch(
                        text -> text.matches("cooling in stage cool-down shows a time constant of (1 min 59|2 min).*"));
    }

    @Test
    void stagesThatLoadThePartsDifferentlyTellTheirResistancesApart() throws Exception {
        WarmLogs machine = new WarmLogs()
                .soak("discrete", 1500, 140, 15)
                .cpuStage("processor", 1500, 8, 45)
                .soak("combined", 1500, 120, 45);
        String text = shared(judge(log(machine, "")));
        assertThat(text)
                .startsWith("a watt of the GPU warms the GPU by 0.35 ± ")
                .contains("and the CPU by 0.12 ± ")
                .contains("a watt of the CPU the CPU by 0.60 ± ")
                .contains("and the GPU by 0.15 ± ")
                .contains("stages discrete, processor, combined")
                .contains("names no cause by itself");
    }

    @Test
    void otherwiseItIsSaidWhyTheyAreNot() throws Exception {
        assertThat(shared(judge(log(new WarmLogs().soak("discrete", 1500, 140, 15), ""))))
                .contains("there is only discrete");
        assertThat(shared(judge(log(new WarmLogs().soak("one", 1500, 140, 15).soak("two", 1500, 120, 14), ""))))
                .contains("nearly the same proportion");
        LogBuilder otherAir = log(new WarmLogs().soak("discrete", 1500, 140, 15).cpuStage("processor", 1500, 8, 45), "")
                .curve("fan.one", m -> m.stage().equals("processor") ? 2000 : 3000);
        assertThat(shared(judge(otherAir))).contains("the others ran at other speeds");
        LogBuilder noFan = log(new WarmLogs().soak("discrete", 1500, 140, 15).cpuStage("processor", 1500, 8, 45), "")
                .without(c -> c.id().equals("fan.one"));
        assertThat(shared(judge(noFan))).contains("no fan's speed was read");
    }
}
