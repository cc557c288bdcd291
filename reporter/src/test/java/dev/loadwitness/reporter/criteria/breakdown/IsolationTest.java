// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import static dev.loadwitness.reporter.scan.LogBuilder.facts;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class IsolationTest {
    @TempDir
    Path folder;

    /** Idle to 0:30, integrated to 2:30, discrete to 4:30. */
    private static LogBuilder both() {
        return withIntegrated(LogBuilder.laptop()
                .idle("idle", 30)
                .stage("integrated", 120, "loads: [gpu-mix], gpu: gpu-integrated", Role.GPU_INTEGRATED)
                .soak("soak", 120));
    }

    private static LogBuilder withIntegrated(LogBuilder log) {
        return log.channel(
                        Channel.of("igpu.work.verified", Metric.WORK_VERIFIED, Role.GPU_INTEGRATED, "load"),
                        m -> m.stage().equals("integrated") ? 500 : 0)
                .channel(Channel.of("igpu.work.errors", Metric.WORK_ERRORS, Role.GPU_INTEGRATED, "load"), m -> 0)
                .curve("gpu.work.verified", m -> m.stage().equals("soak") ? 1000 : 0)
                .criterion("isolation", "mandatory: yes");
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.ISOLATION);
    }

    @Test
    void bothCleanPasses() throws Exception {
        Finding f = judge(both());
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("integrated clean, discrete clean");
    }

    @Test
    void aDeathUnderTheDiscreteLoadAloneFollowsTheDiscreteGpuAndTheSentenceSaysSo() throws Exception {
        LogBuilder log = both().criterion("interruptions", "mandatory: yes").restarts(200, "boot-1");
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because())
                .isEqualTo("The fault follows the discrete GPU: with it the machine broke off in stage soak, with the"
                        + " integrated GPU nothing did in 2 min.");
        assertThat(Judged.of(folder, log).verdict().sentence())
                .contains("suspect the power path. ", "the power button. The fault follows the discrete GPU")
                .doesNotContain("Also failed: isolation");
    }

    @Test
    void aDeathLaterThanTheIntegratedGpuWasLoadedCannotBeTold() throws Exception {
        Finding f = judge(withIntegrated(LogBuilder.laptop()
                        .stage("integrated", 20, "loads: [gpu-mix], gpu: gpu-integrated", Role.GPU_INTEGRATED)
                        .soak("soak", 120))
                .restarts(100, "boot-1"));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("after 1 min 20 s of its load; the integrated one was loaded for only 20 s");
    }

    @Test
    void faultsUnderBothDoNotHangOnTheDiscreteGpuAlone() throws Exception {
        Finding f = judge(both().event(60, EventKind.HANG, Map.of("seconds", 12.0))
                .event(200, EventKind.HANG, Map.of("seconds", 12.0)));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("does not hang on the discrete GPU alone", "power path, cooling, memory");
    }

    @Test
    void aFaultUnderTheIntegratedLoadAloneDoesNotFollowTheDiscreteGpu() throws Exception {
        Finding f = judge(both().event(60, EventKind.KERNEL_MESSAGE, facts("text", "x", "fault", "machine-check")));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("the fault does not follow the discrete GPU");
    }

    @Test
    void aDeathUnderTheIntegratedLoadSaysSoThoughTheDiscreteOneNeverRan() throws Exception {
        Finding f = judge(both().restarts(100, "boot-1"));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because())
                .isEqualTo("With the integrated GPU the machine broke off in stage integrated. The discrete GPU was not"
                        + " loaded by itself, so it cannot be told what a fault would follow.");
    }

    @Test
    void wrongResultsOfTheDiscreteGpuFollowIt() throws Exception {
        Finding f = judge(both().curve("gpu.work.errors", m -> m.seconds() > 200 && m.seconds() < 202 ? 3 : 0)
                .event(201, EventKind.COMPUTE_ERROR, facts("role", "gpu-discrete", "detail", "x")));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains("follows the discrete GPU: with it results were wrong in stage soak");
    }

    /** Held back from 3:20 to 3:30. */
    @Test
    void heldBackForHeatIsOnlyComparedWhereTheIntegratedGpuWouldTell() throws Exception {
        LogBuilder log = both().curve("gpu.throttle.heat", m -> m.seconds() >= 200 && m.seconds() < 210 ? 1 : 0);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("nothing tells whether the integrated one held itself back");
        log.channel(
                Channel.of("igpu.throttle", Metric.THROTTLE_ACTIVE, Role.GPU_INTEGRATED, "igpu")
                        .withCause(Cause.HEAT),
                m -> 0);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void aRunStoppedByAPersonCannotBeTold() throws Exception {
        Finding f = judge(both().stops(200, CloseReason.OPERATOR_STOP, ""));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("the discrete one was not loaded to the end of its stages");
    }

    @Test
    void oneGpuThatNeverRanIsNotMeasured() throws Exception {
        assertThat(judge(withIntegrated(LogBuilder.laptop()
                                .idle("idle", 30)
                                .soak("soak", 60)
                                .neverRun("integrated", "loads: [gpu-mix], gpu: gpu-integrated")))
                        .outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }

    /** With the processor loaded too, the machine draws more than either GPU by itself: that compares nothing. */
    @Test
    void aStageThatLoadsTheProcessorTooDoesNotCount() throws Exception {
        Finding f = judge(both().stage("combined", 60, "loads: [cpu, gpu-mix], gpu: gpu-discrete", Role.GPU_DISCRETE)
                .restarts(300, "boot-1"));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
    }
}
