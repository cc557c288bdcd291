// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.evidence;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.scan.LogBuilder.Curve;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

class SensorsTest {
    private static final Curve SOUND = m -> (m.loaded() ? 72 : 45) + Math.floor(m.seconds()) % 2;

    @TempDir
    Path folder;

    private static LogBuilder log() {
        return LogBuilder.laptop()
                .idle("idle", 90)
                .soak("soak", 210)
                .criterion("temperature-ceiling", "mandatory: yes")
                .criterion("soak-duration", "mandatory: yes, at-least: 3 min")
                .criterion("power-held", "mandatory: yes")
                .criterion("fans", "mandatory: no");
    }

    private Finding ceiling(Curve temperature) throws IOException {
        return Judged.finding(folder, log().curve("gpu.temperature", temperature), Criterion.TEMPERATURE_CEILING);
    }

    @ParameterizedTest
    @ValueSource(doubles = {-128, -30, 0, 127, 127.5, 128, 150, 255})
    void valuesThatNoSensorGivesMeasureNothing(double value) throws Exception {
        Finding f = ceiling(m -> m.seconds() >= 100 && m.seconds() < 110 ? value : SOUND.at(m));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("gpu.temperature cannot be believed: 10 of its 301 readings");
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.at()).isEqualTo("1:40"));
    }

    /** Two such readings are so far apart that the step between them is no number any more. */
    @Test
    void aChargeBeyondAllScalesIsNamedAndNotJudged() throws Exception {
        LogBuilder log = log().criterion("charging", "mandatory: yes")
                .channel(
                        Channel.of("battery.bat0.charge", Metric.BATTERY_CHARGE, Role.BATTERY, "power_supply/BAT0"),
                        m -> m.seconds() % 2 == 0 ? 1e308 : -1e308);
        Finding f = Judged.finding(folder, log, Criterion.CHARGING);
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("battery.bat0.charge cannot be believed: 301 of its 301 readings", "1.0e+308");
    }

    @Test
    void aStrayReadingIsLeftOutAndCostsNoMore() throws Exception {
        Finding f = ceiling(m -> m.seconds() == 100 ? 255 : SOUND.at(m));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).isEqualTo("peak 73.0 °C"));
    }

    @Test
    void aJumpThatNoHeatPathAllowsMeasuresNothing() throws Exception {
        Finding f = ceiling(m -> m.seconds() >= 200 ? -20 + Math.floor(m.seconds()) % 2 : SOUND.at(m));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("at 3:20 it jumped to -20.0 °C and stayed");
    }

    /** A chip follows its load within a second. */
    @Test
    void aChipMayJumpWithItsLoad() throws Exception {
        assertThat(ceiling(m -> (m.loaded() ? 80 : 30) + Math.floor(m.seconds()) % 2)
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void wholeKelvinsAtAPlateauAreNotStuck() throws Exception {
        assertThat(ceiling(m -> m.loaded() ? 70 : 45).outcome()).isEqualTo(Outcome.PASS);
    }

    /** Half a watt more need not move a reading of whole kelvins. */
    @Test
    void aLoadThatHardlyDrawsMoreProvesNoSensorStuck() throws Exception {
        LogBuilder log = log().curve("gpu.temperature", m -> 45)
                .curve("gpu.power", m -> (m.loaded() ? 15.5 : 15) + Math.floor(m.seconds()) % 2 / 10.0);
        assertThat(Judged.finding(folder, log, Criterion.TEMPERATURE_CEILING).outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void batteryAndBoardThatHardlyWarmAndAFanThatStandsStillAreNotStuck() throws Exception {
        LogBuilder log = log();
        log.channel(Channel.of("battery.temperature", Metric.TEMPERATURE, Role.BATTERY, "power_supply"), m -> 28)
                .channel(Channel.of("board.temperature", Metric.TEMPERATURE, Role.BOARD, "hwmon"), m -> 31)
                .channel(Channel.of("fan.gpu.speed", Metric.FAN_SPEED, Role.FAN, "hwmon"), m -> 0);
        assertThat(Judged.of(folder, log).scan().sensorFaults()).isEmpty();
    }

    @Test
    void aGpuThatSleepsBetweenTwoLoadsIsNotStuck() throws Exception {
        assertThat(ceiling(m -> m.loaded() ? SOUND.at(m) : Double.NaN).outcome())
                .isEqualTo(Outcome.PASS);
    }

    /** Power that stands still through idle and load would make the soak pass by itself. */
    @Test
    void stuckPowerMakesWhatReadsItNotMeasured() throws Exception {
        LogBuilder log = log().curve("gpu.power", m -> 140)
                .without(c -> c.metric().name().equals("hw.energy"));
        assertThat(Judged.finding(folder, log, Criterion.SOAK_DURATION).outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
        assertThat(Judged.finding(folder, log, Criterion.POWER_HELD).because())
                .contains("gpu.power is stuck: it read 140.0 W");
        assertThat(Judged.finding(folder, log, Criterion.TEMPERATURE_CEILING).outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void stuckPowerBesideACounterOfEnergyIsSaidAndChangesNothing() throws Exception {
        LogBuilder log = log().curve("gpu.power", m -> 140).curve("gpu.energy", m -> m.loaded() ? 140 : 15);
        Finding f = Judged.finding(folder, log, Criterion.SOAK_DURATION);
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("gpu.power: reading stands still"));
    }

    /** A failure that another sensor shows stays a failure. */
    @Test
    void aFailureOfAnotherSensorStays() throws Exception {
        LogBuilder log = log().curve("gpu.temperature", m -> 51)
                .channel(
                        Channel.of("gpu.hotspot", Metric.TEMPERATURE, Role.GPU_DISCRETE, "gpu")
                                .withLimits(java.util.Map.of(dev.loadwitness.runlog.LimitType.THROTTLED, 100.0)),
                        m -> (m.loaded() ? 99 : 50) + Math.floor(m.seconds()) % 2);
        Finding f = Judged.finding(folder, log, Criterion.TEMPERATURE_CEILING);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.evidence()).anySatisfy(e -> assertThat(e.text()).contains("stands still"));
    }
}
