// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class ColdStartsTest {
    @TempDir
    Path folder;

    /** Half a minute idle, then a sleep, a replug, two boots, each with 30 s of load. */
    private static LogBuilder starts() {
        return LogBuilder.laptop()
                .idle("idle", 30)
                .asking("sleep", "sleep-1", 30)
                .asking("replug", "replug-1", 30)
                .asking("power-off", "boot-1", 30)
                .asking("power-off", "boot-2", 30)
                .criterion("interruptions", "mandatory: yes")
                .criterion("cold-starts", "mandatory: yes, boots: 2, sleeps: 1, replugs: 1");
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.COLD_STARTS);
    }

    @Test
    void everyStartThatWasAskedForDoneAndLoadedCounts() throws Exception {
        Finding f = judge(starts());
        assertThat(f.outcome()).as(f.because()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("2 cold boots, 1 sleep, 1 replug");
        assertThat(f.limit()).isEqualTo("2 cold boots, 1 sleep, 1 replug, load within 2 min");
        assertThat(f.evidence()).hasSize(4);
    }

    @Test
    void whatWasAskedForIsNoInterruption() throws Exception {
        Finding f = Judged.finding(folder, starts(), Criterion.INTERRUPTIONS);
        assertThat(f.outcome()).as(f.because()).isEqualTo(Outcome.PASS);
    }

    @Test
    void sleepThatNobodyAskedForStillIsOne() throws Exception {
        LogBuilder log = starts().event(75, EventKind.SUSPENDED, Map.of("seconds", 50.0));
        Finding f = Judged.finding(folder, log, Criterion.INTERRUPTIONS);
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("slept for 50 s");
    }

    @Test
    void whatNobodyDidIsMissingByNameAndReason() throws Exception {
        Finding f = judge(starts().notDone("sleep-1", "nobody did it"));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).isEqualTo("Cold starts: 0 of 1 sleep counted (sleep-1: left out: nobody did it).");
        assertThat(f.measured()).isEqualTo("2 cold boots, 0 sleeps, 1 replug");
    }

    @Test
    void nothingDoneAtAllIsNotMeasured() throws Exception {
        LogBuilder log = starts();
        for (String id : new String[] {"sleep-1", "replug-1", "boot-1", "boot-2"}) {
            log.notDone(id, "nobody there");
        }
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("0 of 2 cold boots counted (boot-1: left out: nobody there; boot-2:");
    }

    @Test
    void aStageLeftOutIsNoHoleInTheEvidenceNorAFailedSoak() throws Exception {
        LogBuilder log = starts().criterion("soak-duration", "mandatory: yes, at-least: 20 s")
                .notDone("sleep-1", "why");
        assertThat(Judged.finding(folder, log, Criterion.EVIDENCE).because()).doesNotContain("stages");
        LogBuilder only = LogBuilder.laptop()
                .idle("idle", 30)
                .asking("sleep", "sleep-1", 60)
                .notDone("sleep-1", "why")
                .soak("soak", 30)
                .criterion("soak-duration", "mandatory: yes, at-least: 50 s");
        assertThat(Judged.finding(folder, only, Criterion.SOAK_DURATION).outcome())
                .isEqualTo(Outcome.INCONCLUSIVE);
    }

    /** The second sample is the first that can show work done since the one before: two seconds after the boot record. */
    @Test
    void theTimeToLoadCountsFromPowerOn() throws Exception {
        assertThat(judge(starts().bootsIn(118)).outcome()).isEqualTo(Outcome.PASS);
        Finding f = judge(starts().bootsIn(118.1));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("boot-1: the load came only after 2 min");
    }

    @Test
    void theSameBootIsNoColdStart() throws Exception {
        Finding f = judge(starts().neverReallyOff());
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("boot-1: the machine was not switched off");
        assertThat(Judged.finding(folder, starts().neverReallyOff(), Criterion.INTERRUPTIONS)
                        .outcome())
                .isEqualTo(Outcome.INCONCLUSIVE);
    }

    @Test
    void aLoadThatDidNoWorkDoesNotCount() throws Exception {
        Finding f = judge(starts().curve(
                        "gpu.work.verified", m -> !m.loaded() || m.stage().equals("replug-1") ? 0 : 1000));
        assertThat(f.because()).contains("replug-1: no verified work followed");
        Finding g = judge(starts().curve(
                        "gpu.work.verified",
                        m -> !m.loaded() || (m.stage().equals("replug-1") && m.intoStage() > 15) ? 0 : 1000));
        assertThat(g.because()).contains("replug-1: the load did not work all the time");
    }

    @Test
    void aDeathInAStartIsNamedHereAndJudgedAsInterruption() throws Exception {
        LogBuilder log = starts().restarts(100, "boot-after");
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("boot-1: the run broke off 10 s into it; see interruptions");
        assertThat(f.because()).contains("boot-2: never asked for");
        assertThat(Judged.finding(folder, log, Criterion.INTERRUPTIONS).outcome())
                .isEqualTo(Outcome.FAIL);
    }

    @Test
    void aRunThatWasStoppedSaysSo() throws Exception {
        Finding f = judge(starts().stops(100, CloseReason.OPERATOR_STOP, "Ctrl-C"));
        assertThat(f.because()).contains("boot-1: stopped 10 s into it");
    }
}
