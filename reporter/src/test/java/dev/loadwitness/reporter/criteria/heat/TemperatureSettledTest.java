// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static org.assertj.core.api.Assertions.assertThat;

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
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** Half an hour of load, of which the last 20 minutes are judged: a least digit of 1 K is 0.5 K in 10 min over them. */
class TemperatureSettledTest {
    @TempDir
    Path folder;

    private static LogBuilder soak() {
        return LogBuilder.laptop()
                .idle("idle", 30)
                .soak("soak", 1800)
                .criterion("temperature-settled", "mandatory: yes, rise: 1 K, within: 10 min, window: 20 min");
    }

    /** Rising by so much in ten minutes, read in whole kelvins, with a flicker of one. */
    private static LogBuilder rising(double kelvin) {
        return soak().curve(
                        "gpu.temperature",
                        m -> m.loaded()
                                ? Math.floor(70.2 + kelvin * m.intoStage() / 600 + (Math.floor(m.seconds()) % 3) / 3.0)
                                : 45);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.TEMPERATURE_SETTLED);
    }

    @Test
    void aPlateauIsSettled() throws Exception {
        Finding f = judge(rising(0));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.because()).contains("over the last 20 min of stage soak").contains("settled.");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("Theil-Sen", "Mann-Kendall", "nothing"));
    }

    @Test
    void aSteepRiseFails() throws Exception {
        Finding f = judge(rising(3));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("still rising");
        assertThat(f.limit()).isEqualTo("at most 1.0 K in 10 min");
    }

    @Test
    void aRiseWithinTheLimitWhoseBoundIsNotIsInconclusiveAndSaysHowMuchLonger() throws Exception {
        Finding f = judge(rising(0.8));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("not shown to have settled; run longer, by about ");
    }

    /** The same rise is a pass to a sensor that shows tenths: what the digit may hide is less. */
    @Test
    void theLeastDigitOfTheSensorCounts() throws Exception {
        LogBuilder log = soak().describe("gpu.temperature", c -> c.withQuality(0.1, Double.NaN))
                .curve(
                        "gpu.temperature",
                        m -> m.loaded()
                                ? Math.floor(700 + 8 * m.intoStage() / 600 + Math.floor(m.seconds()) % 3) / 10
                                : 45);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void coolingDownUnderLoadIsNoRise() throws Exception {
        assertThat(judge(rising(-4)).outcome()).isEqualTo(Outcome.PASS);
    }

    /** Six minutes up and down with the fan: over a whole number of its cycles that is no slope. */
    @Test
    void aFanThatSwingsIsJudgedOverItsWholeCycles() throws Exception {
        LogBuilder log = soak().channel(
                        Channel.of("fan.gpu", Metric.FAN_SPEED, Role.FAN, "hwmon"),
                        m -> 3000 + 600 * StrictMath.sin(2 * StrictMath.PI * m.seconds() / 360))
                .curve(
                        "gpu.temperature",
                        m -> m.loaded()
                                ? Math.rint(74 - 1.5 * StrictMath.sin(2 * StrictMath.PI * (m.seconds() - 40) / 360))
                                : 45);
        Finding f = judge(log);
        assertThat(f.because()).contains("over the last 18 min ");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("3 whole cycles of the fan"));
    }

    private static LogBuilder atItsTarget(double shedPerTenMinutes) {
        return rising(0)
                .describe("gpu.temperature", c -> c.withLimits(Map.of(LimitType.THROTTLED, 89.0, LimitType.MAX, 71.0)))
                .curve(
                        "gpu.power",
                        m -> m.loaded()
                                ? 110 - shedPerTenMinutes * m.intoStage() / 600 + Math.floor(m.seconds()) % 5
                                : 15);
    }

    @Test
    void heldAtItsTargetItIsSettledByRegulationAndTheWattsAreTheResult() throws Exception {
        Finding f = judge(atItsTarget(0));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.because()).contains("by its own regulation", "What it sustained is the result: 112 W");
    }

    @Test
    void heldAtItsTargetAndStillSheddingItIsNotSettled() throws Exception {
        Finding f = judge(atItsTarget(8));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("sheds up to");
    }

    @Test
    void aTemperatureThatIsReadTooSeldomIsNotMeasured() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .idle("idle", 30)
                .soak("soak", 80)
                .criterion("temperature-settled", "mandatory: no, window: 1 min")
                .curve("gpu.temperature", m -> Math.floor(m.seconds()) % 10 == 0 ? 70 : Double.NaN);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void aStuckSensorIsNotMeasured() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .idle("idle", 90)
                .soak("soak", 1500)
                .criterion("temperature-settled", "mandatory: yes")
                .curve("gpu.temperature", m -> 51);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("gpu.temperature is stuck");
    }
}
