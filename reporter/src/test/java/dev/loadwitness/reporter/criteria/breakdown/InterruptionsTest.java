// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import static dev.loadwitness.reporter.scan.LogBuilder.facts;
import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.tuple;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.criteria.work.LoadStepsTest;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.verdict.Judgement;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.ending.EndCause;
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
                .isEqualTo(
                        "Shut off after 2 min 30 s, 2 min into stage soak, at 72 °C, 17 K below its own slowdown"
                                + " and steady: suspect the power path. Not excluded: a hang, a reset, heat, the power button.");
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
    void whatWasHotWithinItsLastMinuteAndHadCooledStillPointsToHeat() throws Exception {
        assertThat(judge(soak().curve("gpu.temperature", m -> m.seconds() < 130 ? 88 : 60)
                                .restarts(150, "boot-1"))
                        .because())
                .contains("at 60 °C, 29 K below its own slowdown after 88 °C within its last minute: suspect heat");
    }

    @Test
    void aLogThatBreaksOffIsSaidFirst() throws Exception {
        assertThat(Judged.of(folder, soak().breaksOff(150)).verdict().sentence())
                .startsWith("The log breaks off");
    }

    @Test
    void aTemperatureThatWasStillRisingPointsToNeither() throws Exception {
        Finding f = judge(
                soak().curve("gpu.temperature", m -> 45 + m.seconds() / 10).restarts(150, "boot-1"));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("29 K below its own slowdown, rising by 6 K in the last minute");
        assertThat(f.because()).doesNotContain("suspect");
    }

    /** Of the sixth and later ones nothing but when and why is left, and that is said. */
    @Test
    void afterTheFifthEachInterruptionHasOneLineWithItsTimeAndCauses() throws Exception {
        Finding f = judge(soak().loops(150, 8)
                .closedAs(CloseReason.INTERRUPTED)
                .evidence(Map.of("same-boot", "no", "crash-store", "panic")));
        assertThat(f.measured()).isEqualTo("8");
        Table shortened = f.tables().get(f.tables().size() - 1);
        assertThat(f.tables()).anySatisfy(t -> assertThat(t.title()).isEqualTo("Interruption 5, causes"));
        assertThat(f.tables()).noneSatisfy(t -> assertThat(t.title()).startsWith("Interruption 6"));
        assertThat(shortened.title()).contains("shortened to one line each");
        assertThat(shortened.rows())
                .hasSize(3)
                .allSatisfy(row -> assertThat(row.get(2)).isEqualTo("shown: kernel-crash"));
        assertThat(shortened.rows().get(0).get(0)).isEqualTo("6");
        assertThat(shortened.rows().get(0).get(1)).matches("no sample; next boot, 20[0-9T:-]+Z \\(line [0-9]+\\)");
    }

    @Test
    void fiveInterruptionsNeedNoShortForm() throws Exception {
        Finding f = judge(soak().loops(150, 5)
                .closedAs(CloseReason.INTERRUPTED)
                .evidence(Map.of("same-boot", "no", "crash-store", "panic")));
        assertThat(f.measured()).isEqualTo("5");
        assertThat(f.tables()).noneSatisfy(t -> assertThat(t.title()).contains("shortened"));
    }

    @Test
    void whatFellInTheLastSecondsIsNamed() throws Exception {
        Table t = table(
                judge(soak().curve("gpu.power", m -> m.seconds() > 145 ? 20 : 140)
                        .restarts(150, "boot-1")),
                "circumstances");
        assertThat(cell(t, "at the end"))
                .startsWith("power falling (140 to 20 W)")
                .contains("temperature");
    }

    /** The last sample is at 0:20; the soak begins at 0:30, and at 0:35 the log breaks off. */
    @Test
    void aStageBegunAfterTheLastSampleTookNoTime() throws Exception {
        LogBuilder log = LogBuilder.gpuSoak(180, "interruptions", "mandatory: yes")
                .sampledWhen(m -> m.seconds() <= 20)
                .breaksOff(35);
        Judgement judgement = Judged.of(folder, log);
        assertThat(judgement.scan().stages())
                .extracting(
                        s -> s.stage().id(), s -> s.end().seconds() - s.begin().seconds())
                .containsExactly(tuple("idle", 30.0), tuple("soak", 0.0));
        assertThat(judgement.verdict().outcome()).isEqualTo(Outcome.INCONCLUSIVE);
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

    private static final Map<String, String> POWER_CUT = Map.of(
            "same-boot",
            "no",
            "system-log",
            "none",
            "login-records",
            "none",
            "crash-store",
            "empty",
            "off-seconds",
            "12");

    private static Table table(Finding f, String title) {
        return f.tables().stream()
                .filter(t -> t.title().endsWith(title) || t.title().contains(", " + title))
                .findFirst()
                .orElseThrow(() -> new AssertionError("no table '" + title + "' in " + f.tables()));
    }

    private static String cell(Table table, String row) {
        return table.rows().stream()
                .filter(r -> r.get(0).equals(row))
                .map(r -> r.get(1))
                .findFirst()
                .orElseThrow(() -> new AssertionError("no row '" + row + "' in " + table));
    }

    @Test
    void everyCauseIsListedAsShownLeftOpenOrExcluded() throws Exception {
        Finding f = judge(soak().restarts(150, "boot-1").evidence(POWER_CUT));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because())
                .startsWith("Shut off after 2 min 30 s")
                .contains("suspect the power path. Not excluded: a hang,");
        Table causes = table(f, "causes");
        assertThat(causes.rows()).hasSize(EndCause.values().length);
        assertThat(cell(causes, "power-loss")).isEqualTo("not excluded");
        assertThat(cell(causes, "kernel-crash")).isEqualTo("excluded");
        assertThat(cell(causes, "orderly-shutdown")).isEqualTo("excluded");
    }

    @Test
    void aKernelCrashFailsAndIsNotBlamedOnThePowerPath() throws Exception {
        Finding f = judge(soak().restarts(150, "boot-1")
                .evidence(Map.of("same-boot", "no", "crash-store", "panic", "crash-record", "oops#1")));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because())
                .isEqualTo("The kernel crashed after 2 min 30 s, 2 min into stage soak, at 72 °C, 17 K below its own"
                        + " slowdown and steady.");
        assertThat(cell(table(f, "causes"), "kernel-crash")).isEqualTo("shown");
    }

    @Test
    void aThermalTripIsHeatHoweverTheLastMinuteLooks() throws Exception {
        Finding f = judge(soak().restarts(150, "boot-1").evidence(Map.of("same-boot", "no", "thermal-message", "yes")));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because())
                .startsWith("Switched itself off for heat after 2 min 30 s")
                .doesNotContain("power path");
    }

    @Test
    void whatTheSystemDidInOrderIsInconclusive() throws Exception {
        Finding f = judge(soak().restarts(150, "boot-1")
                .evidence(Map.of("same-boot", "no", "system-log", "restart", "asked-by", "user")));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because())
                .isEqualTo(
                        "Was restarted in order after 2 min 30 s, 2 min into stage soak: not the machine's own doing.");
    }

    @Test
    void aButtonThatWasHeldIsInconclusive() throws Exception {
        Finding f = judge(soak().restarts(150, "boot-1")
                .evidence(Map.of("same-boot", "no", "system-log", "none", "power-button", "held")));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).startsWith("Was switched off by its power button");
    }

    @Test
    void anAgentThatDiedInARunningMachineIsInconclusive() throws Exception {
        Finding f = judge(soak().restarts(150, "boot-0").evidence(Map.of("same-boot", "yes", "agent-crash", "report")));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).startsWith("The agent crashed after 2 min 30 s");
    }

    @Test
    void anotherBootWithoutEvidenceIsTheMachines() throws Exception {
        Finding f = judge(soak().restarts(150, "boot-1").evidence(Map.of()));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.tables()).noneMatch(t -> t.title().endsWith("causes"));
        assertThat(f.evidence().get(0).text()).contains("no evidence");
    }

    /** Last sample at 14:02:30; the next boot's record two minutes later, 12.25 s after it began; a second for the chip. */
    @Test
    void theTimeOfDeathIsAnIntervalAndThePositionTheLastSample() throws Exception {
        Table t = table(judge(soak().restarts(150, "boot-1")), "circumstances");
        assertThat(cell(t, "time")).isEqualTo("between 2026-11-25T14:02:30Z and 2026-11-25T14:04:18.750Z (1 min 49 s)");
        assertThat(cell(t, "position"))
                .startsWith("after 2:30.0 of boot 1 (line ")
                .endsWith("on the disk by 2:32.0");
        assertThat(cell(t, "stage")).isEqualTo("soak, 2 min after its begin");
    }

    @Test
    void theIntervalIsUnknownWhereTheClockIsWrongAndThePositionStaysExact() throws Exception {
        Table t = table(judge(soak().restarts(150, "boot-1").clockLost()), "circumstances");
        assertThat(cell(t, "time")).startsWith("unknown: the clock was not right at the next boot");
        assertThat(cell(t, "position")).startsWith("after 2:30.0 of boot 1");
    }

    @Test
    void theLastMinuteIsATableOfTheLoadedPart() throws Exception {
        Table t = table(judge(soak().restarts(150, "boot-1")), "last minute of the discrete GPU");
        assertThat(t.columns()).containsExactly("Time", "Stage", "Power", "Limit", "Temperature");
        assertThat(t.rows().get(0)).containsExactly("60.0 s before", "soak", "140 W", "150 W", "72 °C");
        assertThat(t.rows().get(t.rows().size() - 2))
                .containsExactly("1.0 s before", "soak", "140 W", "150 W", "73 °C");
        assertThat(t.rows().get(t.rows().size() - 1)).containsExactly("last", "soak", "140 W", "150 W", "72 °C");
    }

    @Test
    void thePowerOfTheLastMinuteCanComeFromTheEnergyCounter() throws Exception {
        Table t = table(judge(soak().without(c -> c.id().equals("gpu.power")).restarts(150, "boot-1")), "last minute");
        assertThat(t.rows().get(0).get(2)).isEqualTo("-");
        assertThat(t.rows().get(5).get(2)).isEqualTo("140 W");
    }

    @Test
    void aLoadStepInProgressIsTold() throws Exception {
        LogBuilder log = LogBuilder.laptop()
                .idle("idle", 30)
                .stage("steps", 60, "loads: [gpu-steps], gpu: gpu-discrete", Role.GPU_DISCRETE)
                .criterion("interruptions", "mandatory: yes");
        LoadStepsTest.steps(log, 40, 0.5, 20);
        assertThat(cell(table(judge(log.restarts(52, "boot-1")), "circumstances"), "load"))
                .isEqualTo("in load steps, on and off every 0.5 s, 50.0 % of it on; last told at 0:49.9, just switched"
                        + " off");
        LogBuilder ramp = LogBuilder.laptop()
                .idle("idle", 30)
                .stage("ramp", 60, "loads: [gpu-ramp], gpu: gpu-discrete", Role.GPU_DISCRETE)
                .criterion("interruptions", "mandatory: yes");
        ramp.event(30.1, EventKind.LOAD_LEVEL, facts("load", "gpu-ramp", "level", 0.25, "seconds", 0.1))
                .event(50.1, EventKind.LOAD_LEVEL, facts("load", "gpu-ramp", "level", 0.75, "seconds", 0.1));
        assertThat(cell(table(judge(ramp.restarts(55, "boot-1")), "circumstances"), "load"))
                .isEqualTo("at 75.0 % of full load since 0:50.1");
    }

    @Test
    void aTemperatureThatWouldHaveReachedTheLimitWithinAnotherMinutePointsToHeat() throws Exception {
        Finding f = judge(soak().curve("gpu.temperature", m -> m.seconds() / 2).restarts(150, "boot-1"));
        assertThat(f.because())
                .contains("at 75 °C, 14 K below its own slowdown, rising by 30 K in the last minute, so that it would"
                        + " have reached it within another: suspect heat");
        assertThat(cell(table(f, "circumstances"), "trend")).startsWith("heat: ");
    }

    @Test
    void aTemperatureThatWasFallingIsNotHeat() throws Exception {
        Finding f =
                judge(soak().curve("gpu.temperature", m -> 90 - m.seconds() / 5).restarts(150, "boot-1"));
        assertThat(f.because()).contains("falling by 12 K in the last minute: suspect the power path");
        assertThat(cell(table(f, "circumstances"), "trend")).startsWith("not heat: ");
    }

    @Test
    void aFewSecondsShowNoTrend() throws Exception {
        Finding f = judge(LogBuilder.laptop()
                .soak("soak", 60)
                .criterion("interruptions", "mandatory: yes")
                .restarts(12, "boot-1"));
        assertThat(f.because()).contains("watched too shortly to tell a trend").doesNotContain("suspect");
    }

    @Test
    void aMessageOfTheKernelInTheLastMinuteIsNamedAndAnEarlierOneIsNot() throws Exception {
        Finding f = judge(soak().event(60, EventKind.KERNEL_MESSAGE, facts("text", "x", "fault", "gpu-reset"))
                .event(148, EventKind.KERNEL_MESSAGE, facts("text", "y", "fault", "gpu-off-the-bus"))
                .restarts(150, "boot-1"));
        assertThat(f.because()).contains("In the last minute the kernel told of gpu-off-the-bus. Not excluded:");
        assertThat(cell(table(f, "circumstances"), "kernel")).startsWith("2:28.0 gpu-off-the-bus (line ");
    }

    private static LogBuilder switchedOffAsAsked() {
        return soak().event(29, EventKind.OPERATOR_ASKED, facts("what", "power-off", "stage", "soak"))
                .restarts(29.5, "boot-1")
                .evidence(POWER_CUT)
                .eventAfterRestart(EventKind.OPERATOR_DONE, facts("what", "power-off", "stage", "soak"))
                .closedAs(CloseReason.COMPLETED);
    }

    @Test
    void aPowerOffThatWasAskedForIsNoInterruption() throws Exception {
        assertThat(judge(switchedOffAsAsked()).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aPowerOffThatWasAskedForIsOneIfTheLoadHadBegunOrAnotherBootHadNotSeenItOrItWasACrash() throws Exception {
        assertThat(judge(switchedOffAsAsked().event(29.2, EventKind.LOAD_BEGIN, facts("load", "gpu-mix")))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
        assertThat(judge(soak().event(29, EventKind.OPERATOR_ASKED, facts("what", "power-off", "stage", "soak"))
                                .restarts(29.5, "boot-1")
                                .closedAs(CloseReason.COMPLETED))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
        assertThat(judge(switchedOffAsAsked().evidence(Map.of("same-boot", "no", "crash-store", "panic")))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
        assertThat(judge(switchedOffAsAsked()
                                .event(29.2, EventKind.OPERATOR_DONE, facts("what", "power-off", "stage", "soak")))
                        .outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void sleepThatWasAskedForIsNoInterruptionAndSleepLaterIs() throws Exception {
        LogBuilder log = soak().event(20, EventKind.OPERATOR_ASKED, facts("what", "sleep", "stage", "soak"))
                .event(22, EventKind.OPERATOR_DONE, facts("what", "sleep", "stage", "soak", "seconds", 2.0))
                .event(22, EventKind.SUSPENDED, Map.of("seconds", 300.0));
        assertThat(judge(log).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(log.event(100, EventKind.SUSPENDED, Map.of("seconds", 300.0)))
                        .outcome())
                .isEqualTo(Outcome.INCONCLUSIVE);
    }

    @Test
    void aRestartLoopFailsInASentenceOfItsOwn() throws Exception {
        Judgement judged = Judged.of(folder, soak().loops(150, 4).evidence(POWER_CUT));
        Finding f = judged.verdict().findings().stream()
                .filter(x -> x.criterion() == Criterion.INTERRUPTIONS)
                .findFirst()
                .orElseThrow();
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because())
                .startsWith("Restart loop: it started 4 times without living to its first sample. Before that: shut off"
                        + " after 2 min 30 s");
        assertThat(f.measured()).isEqualTo("2");
    }

    @Test
    void everyEndByTheMachineIsAFailureAndEachSegmentsLoadCountsOnce() throws Exception {
        LogBuilder log = LogBuilder.gpuSoak(900, "interruptions", "mandatory: yes")
                .criterion("soak-duration", "mandatory: yes, at-least: 14 min")
                .resumes(630, "boot-1")
                .evidence(POWER_CUT);
        Judgement judged = Judged.of(folder, log);
        assertThat(String.join(" ", judged.verdict().demonstrated()))
                .startsWith("In 24 min under full load over this run the machine broke off 1 time:");
        Finding soak = judged.verdict().findings().stream()
                .filter(f -> f.criterion() == Criterion.SOAK_DURATION)
                .findFirst()
                .orElseThrow();
        assertThat(soak.measured())
                .isEqualTo("14 min 59 s"); // the first window begins with the stage, the last piece is short
        Judgement looped = Judged.of(
                folder,
                LogBuilder.gpuSoak(900, "interruptions", "mandatory: yes")
                        .loops(840, 3)
                        .evidence(POWER_CUT));
        assertThat(String.join(" ", looped.verdict().demonstrated())).contains("broke off 2 times");
    }
}
