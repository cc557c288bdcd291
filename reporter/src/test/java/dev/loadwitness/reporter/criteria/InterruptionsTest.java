// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import static dev.loadwitness.reporter.scan.LogBuilder.facts;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

class InterruptionsTest {
    @TempDir
    Path folder;

    private static LogBuilder soak() {
        return LogBuilder.gpuSoak(180, "interruptions", "mandatory: yes");
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.INTERRUPTIONS);
    }

    @Test
    void aRunToItsEndPasses() throws Exception {
        assertThat(judge(soak()).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aRestartInAnotherBootFailsAndColdAndSteadyPointsToThePowerPath() throws Exception {
        LogBuilder log = soak().restarts(150, "boot-1");
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because())
                .isEqualTo("Shut off after 2 min 30 s, 2 min into stage soak, at 72 °C, 17 K below its own slowdown"
                        + " and steady: suspect the power path.");
        assertThat(Judged.of(folder, log).verdict().sentence()).startsWith(f.because());
    }

    @Test
    void tenKelvinBelowSlowdownIsColdAndNineIsNot() throws Exception {
        assertThat(judge(soak().curve("gpu.temperature", m -> m.loaded() ? 79 : 45)
                                .restarts(150, "boot-1"))
                        .because())
                .contains("10 K below its own slowdown and steady: suspect the power path");
        assertThat(judge(soak().curve("gpu.temperature", m -> m.loaded() ? 80 : 45)
                                .restarts(150, "boot-1"))
                        .because())
                .contains("9 K below its own slowdown: suspect heat");
    }

    @Test
    void aTemperatureThatWasStillRisingPointsToNeither() throws Exception {
        Finding f = judge(
                soak().curve("gpu.temperature", m -> 45 + m.seconds() / 10).restarts(150, "boot-1"));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("29 K below its own slowdown, rising by 6 K in the last minute");
        assertThat(f.because()).doesNotContain("suspect");
    }

    @Test
    void aRestartInTheSameBootIsNotTheMachines() throws Exception {
        Finding f = judge(soak().restarts(150, "boot-0"));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("not the machine");
    }

    @Test
    void aLogThatBreaksOffIsInconclusiveAndSaysThatItCannotTell() throws Exception {
        Finding f = judge(soak().breaksOff(150));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because())
                .startsWith("The log breaks off after 2 min 30 s")
                .contains("suspect the power path")
                .contains("cannot tell which");
    }

    @ParameterizedTest
    @EnumSource(
            value = CloseReason.class,
            names = {
                "OPERATOR_STOP",
                "DEVICE_ABSENT",
                "WITNESS_BLIND",
                "LOAD_FAILED",
                "STORAGE_FULL",
                "AGENT_FAILED",
                "INTERRUPTED"
            })
    void anEndBeforeItsTimeThatIsNotTheMachinesDoingIsInconclusive(CloseReason reason) throws Exception {
        Finding f = judge(soak().stops(150, reason, ""));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("2:30").endsWith(".");
    }

    private Finding safetyStop(String why, String said) throws IOException {
        return judge(soak().stops(150, CloseReason.SAFETY_STOP, said)
                .event(150, EventKind.SAFETY_STOP, facts("role", "gpu-discrete", "why", why, "detail", said)));
    }

    @Test
    void aSafetyStopFailsWhereTheMachineCausedIt() throws Exception {
        Finding hot = safetyStop("ceiling", "the discrete GPU reached 106 °C");
        assertThat(hot.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(hot.because())
                .isEqualTo("Load taken off for safety at 2:30: the discrete GPU reached 106 °C. Look at heatsink"
                        + " contact, pads, paste, fans and vents.");
        Finding adapter = safetyStop("adapter", "the adapter stopped feeding the machine");
        assertThat(adapter.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(adapter.because()).contains("power jack");
    }

    @Test
    void aSafetyStopForASilentSensorIsInconclusive() throws Exception {
        assertThat(safetyStop("silent", "nothing heard for 30 s").outcome()).isEqualTo(Outcome.INCONCLUSIVE);
    }

    @Test
    void sleepIsInconclusive() throws Exception {
        Finding f = judge(soak().event(100, EventKind.SUSPENDED, Map.of("seconds", 300.0)));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).isEqualTo("The machine slept for 5 min at 1:40.");
    }

    @Test
    void aHangFailsEvenBesideSleep() throws Exception {
        Finding f = judge(soak().event(90, EventKind.SUSPENDED, Map.of("seconds", 300.0))
                .event(100, EventKind.HANG, Map.of("seconds", 14.0)));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).isEqualTo("The machine stood still for 14 s at 1:40, and went on by itself.");
        assertThat(f.measured()).isEqualTo("2");
    }

    @Test
    void theJobSheetCanDeclareItNotApplicable() throws Exception {
        assertThat(judge(soak().jobSheet("not-applicable:\n  interruptions: switched off on purpose\n"))
                        .outcome())
                .isEqualTo(Outcome.NOT_APPLICABLE);
    }
}
