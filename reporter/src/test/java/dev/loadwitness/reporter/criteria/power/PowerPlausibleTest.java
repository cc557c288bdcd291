// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class PowerPlausibleTest {
    @TempDir
    Path folder;

    /** GPU from 15 to 140 W, CPU from 15 to 50 W: the machine reports a rise of 160 W. */
    private static LogBuilder soak() {
        return LogBuilder.gpuSoak(120, "power-plausible", "mandatory: yes")
                .channel(Channel.of("cpu.power", Metric.POWER, Role.CPU, "powercap"), m -> m.loaded() ? 50 : 15);
    }

    private static LogBuilder metered(LogBuilder log, double idle, double soak) {
        return log.jobSheet("wall-meter: {idle: " + idle + " W, soak: " + soak + " W}\n");
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.POWER_PLAUSIBLE);
    }

    /** By hand: 0.85 · 188 W = 159.8 W; 128 W and 192 W are 20 % off, at a rise of 150.6 W and 225.9 W. */
    @Test
    void aMeterThatAgreesWithinAFifthPasses() throws Exception {
        Finding f = judge(metered(soak(), 40, 228));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.because()).contains("rose by 188 W", "the machine reports 160 W");
        assertThat(judge(metered(soak(), 40, 191)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(metered(soak(), 40, 190)).outcome()).isEqualTo(Outcome.FAIL);
        assertThat(judge(metered(soak(), 40, 265)).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(metered(soak(), 40, 266.5)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void aMachineThatReportsTwiceItsPowerFails() throws Exception {
        Finding f = judge(metered(soak(), 40, 140));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("current sense");
    }

    @Test
    void aBatteryThatChargesInTheIdleStageIsTakenIntoAccount() throws Exception {
        LogBuilder charging = metered(soak(), 120, 228)
                .channel(
                        Channel.of("battery.power", Metric.BATTERY_POWER, Role.BATTERY, "bat"),
                        m -> m.loaded() ? 0 : 68);
        Finding f = judge(charging);
        assertThat(f.because()).contains("battery charging -68 W");
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aGpuThatSleptInTheIdleStageDrewNothing() throws Exception {
        LogBuilder asleep = metered(soak(), 40, 245)
                .curve("gpu.power", m -> m.loaded() ? 140 : Double.NaN)
                .curve("gpu.energy", m -> m.loaded() ? 140 : Double.NaN)
                .channel(
                        Channel.of("gpu.awake", Metric.DEVICE_AWAKE, Role.GPU_DISCRETE, "kernel"),
                        m -> m.loaded() ? 1 : 0);
        assertThat(judge(asleep).because()).contains("the discrete GPU +140 W");
        assertThat(judge(asleep.without(c -> c.id().equals("gpu.awake"))).outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void withoutAMeterItIsUncheckedAndSaysSo() throws Exception {
        for (LogBuilder log : new LogBuilder[] {soak(), soak().jobSheet("wall-meter: {idle: 40 W}\n")}) {
            Finding f = judge(log);
            assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
            assertThat(f.because()).contains("unchecked", "no readings of a wall meter");
        }
    }
}
