// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** The GPU of the built logs slows itself down at 89 Cel; less 5 K that makes a limit of 84 Cel. */
class TemperatureCeilingTest {
    @TempDir
    Path folder;

    private static LogBuilder soak() {
        return LogBuilder.gpuSoak(210, "temperature-ceiling", "mandatory: yes, margin: 5 K, ceiling: 90 Cel");
    }

    /** Hot under load, alternating by 0.2 K so that the sensor is not taken for stuck; idle at 45. */
    private static LogBuilder hot(double mean) {
        return soak().curve("gpu.temperature", m -> (m.loaded() ? mean : 45) + (m.seconds() % 2 == 0 ? 0.1 : -0.1));
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.TEMPERATURE_CEILING);
    }

    @Test
    void coolEnoughPassesAgainstTheDevicesOwnLimit() throws Exception {
        Finding f = judge(hot(80));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.limit()).isEqualTo("at most 84.0 °C");
        assertThat(f.limitOrigin()).startsWith("device (slowdown at 89 °C) less 5 K");
        assertThat(f.measured()).isEqualTo("80.0 °C");
        assertThat(f.margin()).isEqualTo("+4.0 K");
    }

    @Test
    void tooHotFails() throws Exception {
        Finding f = judge(hot(86));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.margin()).isEqualTo("-2.0 K");
        assertThat(f.because()).contains("2.0 K above the limit: look at heatsink contact");
    }

    /** Steps of 1 K, nobody says which way: u = 1/sqrt(3) = 0.577 K, guard band 2u = 1.155 K. */
    @Test
    void theGuardBandIsThatOfTheResolutionOnly() throws Exception {
        assertThat(judge(hot(82.8)).outcome()).isEqualTo(Outcome.PASS);
        Finding below = judge(hot(82.9));
        assertThat(below.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(below.uncertainty()).isEqualTo("1.2 K");
        assertThat(below.because()).contains("too close to the limit of 84.0 °C");
        // On the limit a coin decides.
        assertThat(judge(hot(84)).conformity().orElseThrow()).isCloseTo(0.5, within(0.01));
        assertThat(judge(hot(85.1)).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(judge(hot(85.2)).outcome()).isEqualTo(Outcome.FAIL);
    }

    /** Room 0.4 K against steps of 1 K; room 3 K against 2 K of calibration: √(1.5² − 1/3) = 1.384 K, 2.8 K expanded. */
    @Test
    void insideTheGuardBandItIsSaidWhatWouldSettleIt() throws Exception {
        assertThat(judge(hot(83.6)).because()).contains("this sensor's steps are too coarse for so near a value");
        Finding f = judge(hot(87).describe("gpu.temperature", c -> c.withLimits(Map.of())));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("A longer run would not settle it", "one known to 2.8 K (k = 2) would");
        assertThat(f.tables()).singleElement().satisfies(t -> {
            assertThat(t.title()).isEqualTo("Uncertainty of temperature-ceiling, gpu-discrete");
            assertThat(t.rows()).contains(List.of("decision wrong", "nothing was decided", "-", ""));
            assertThat(t.rows())
                    .anySatisfy(
                            r -> assertThat(r.subList(1, 4)).containsExactly("calibration", "2.0 K", "taken as known"));
        });
    }

    @Test
    void simpleAcceptanceHasNoGuardBand() throws Exception {
        assertThat(judge(hot(83.9).decision("{rule: simple}")).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(hot(84.1).decision("{rule: simple}")).outcome()).isEqualTo(Outcome.FAIL);
    }

    /** Calibration 2 K and resolution 1 K: u = sqrt(4 + 1/3) = 2.08 K, guard band 4.16 K below 90 Cel. */
    @Test
    void againstTheProceduresLimitTheCalibrationIsPutIn() throws Exception {
        Finding pass = judge(hot(85.8).describe("gpu.temperature", c -> c.withLimits(Map.of())));
        assertThat(pass.outcome()).isEqualTo(Outcome.PASS);
        assertThat(pass.limit()).isEqualTo("at most 90.0 °C");
        assertThat(pass.limitOrigin()).isEqualTo("procedure");
        assertThat(pass.uncertainty()).isEqualTo("4 K");
        Finding open = judge(hot(85.9).describe("gpu.temperature", c -> c.withLimits(Map.of())));
        assertThat(open.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(judge(hot(94.2).describe("gpu.temperature", c -> c.withLimits(Map.of())))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void theSensorsOwnUncertaintyGoesBeforeTheProcedures() throws Exception {
        Finding f = judge(
                hot(80).describe("gpu.temperature", c -> c.withLimits(Map.of()).withQuality(0.125, 0.5)));
        assertThat(f.uncertainty()).isEqualTo("1.0 K");
    }

    @Test
    void oneHotReadingBelowTheShutdownLimitDoesNotDecide() throws Exception {
        LogBuilder log = soak().curve("gpu.temperature", m -> m.seconds() == 100 ? 94 : 60 + m.seconds() % 2);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void oneReadingAtTheDevicesShutdownLimitFails() throws Exception {
        LogBuilder log = soak().curve("gpu.temperature", m -> m.seconds() == 100 ? 95 : 60 + m.seconds() % 2);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("shutdown limit of 95 °C");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.at()).isEqualTo("1:40"));
    }

    @Test
    void aSensorThatStandsStillWhileTheLoadComesIsStuckAndNotMeasured() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .idle("idle", 90)
                .soak("soak", 150)
                .criterion("temperature-ceiling", "mandatory: yes")
                .curve("gpu.temperature", m -> 51);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("gpu.temperature is stuck: it read 51.0 °C");
    }

    @Test
    void aSteadyTemperatureUnderSteadyLoadIsNotStuck() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .idle("idle", 90)
                .soak("soak", 210)
                .criterion("temperature-ceiling", "mandatory: yes")
                .curve("gpu.temperature", m -> m.loaded() ? 70 : 45);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aSensorThatAnswersTooRarelyForAWholeMinuteIsNotMeasured() throws Exception {
        LogBuilder log = soak().curve("gpu.temperature", m -> m.seconds() % 2 == 0 ? 60 : Double.NaN);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("no whole minute");
    }

    @Test
    void withoutASensorNothingIsMeasured() throws Exception {
        Finding f = judge(soak().without(c -> c.is(Role.GPU_DISCRETE, Metric.TEMPERATURE)));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void theWorstOfSeveralSensorsIsShown() throws Exception {
        Channel hotspot = Channel.of("gpu.hotspot", Metric.TEMPERATURE, Role.GPU_DISCRETE, "gpu")
                .withQuality(1, Double.NaN)
                .withLimits(Map.of(LimitType.THROTTLED, 100.0));
        Finding f = judge(hot(80).channel(hotspot, m -> 97 + m.seconds() % 2));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.limitOrigin()).contains("100 °C");
    }

    /** The hardware slows this GPU down at 89 Cel; 87, which its driver aims for, is where laptops run for hours. */
    @Test
    void theHardwaresSlowdownCountsBeforeWhatTheDriverAimsFor() throws Exception {
        LogBuilder log = hot(83.7)
                .describe(
                        "gpu.temperature",
                        c -> c.withLimits(
                                Map.of(LimitType.THROTTLED, 89.0, LimitType.MAX, 87.0, LimitType.HIGH_CRITICAL, 95.0)));
        Finding f = judge(log);
        assertThat(f.limit()).isEqualTo("at most 84.0 °C");
        assertThat(f.limitOrigin()).startsWith("device (slowdown at 89 °C) less 5 K");
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
    }

    private static Channel memory(Map<LimitType, Double> limits) {
        return Channel.of("gpu.memory.temperature", Metric.TEMPERATURE, Role.GPU_DISCRETE, "gpu")
                .withQuality(1, Double.NaN)
                .withLimits(limits);
    }

    @Test
    void theGpusMemoryIsJudgedByItsOwnLimit() throws Exception {
        LogBuilder log = hot(80).channel(memory(Map.of(LimitType.THROTTLED, 110.0)), m -> 101 + m.seconds() % 2);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        log = hot(80).channel(memory(Map.of(LimitType.THROTTLED, 105.0)), m -> 101 + m.seconds() % 2);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void theGpusMemoryWithoutALimitIsNotJudgedByTheChips() throws Exception {
        LogBuilder log = hot(80).channel(memory(Map.of()), m -> 101 + m.seconds() % 2);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(log.describe("gpu.temperature", c -> c.withLimits(Map.of())))
                        .limit())
                .isEqualTo("at most 90.0 °C");
    }

    @Test
    void theBlockIsTheProceduresOwn() throws Exception {
        // Hot for 30 s: a mean over 30 s sees it whole, one over a minute only half of it.
        LogBuilder log = soak().curve(
                        "gpu.temperature",
                        m -> (m.seconds() >= 120 && m.seconds() < 150 ? 90 : 50) + m.seconds() % 2 / 10);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
        log.criterion("temperature-ceiling", "mandatory: yes, block: 30 s");
        assertThat(judge(log).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void theJobSheetCanDeclareItNotApplicable() throws Exception {
        assertThat(judge(soak().jobSheet("not-applicable:\n  temperature-ceiling: open bench\n"))
                        .outcome())
                .isEqualTo(Outcome.NOT_APPLICABLE);
    }

    @Test
    void whatSwitchedItselfOffForHeatDoesNotPassByTheMinuteBefore() throws Exception {
        LogBuilder log =
                soak().curve("gpu.temperature", m -> 70 + m.seconds() % 2).restarts(150, "boot-1");
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
        log.evidence(Map.of("same-boot", "no", "system-log", "none", "thermal-message", "yes"));
        assertThat(judge(log).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(judge(log).because()).contains("switched itself off for heat");
    }

    @Test
    void theLastPieceOfABootCountsWithLess() throws Exception {
        LogBuilder log = soak().curve("gpu.temperature", m -> m.seconds() >= 120 ? 93 : 60 + m.seconds() % 2)
                .restarts(150, "boot-1");
        assertThat(judge(log).outcome()).isEqualTo(Outcome.FAIL);
    }
}
