// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.breakdown;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;
import org.junit.jupiter.params.provider.EnumSource;

class HardwareErrorsTest {
    @TempDir
    Path folder;

    /** A hundred seconds at rest, a hundred under load. */
    private static LogBuilder soak() {
        return LogBuilder.laptop()
                .idle("idle", 100)
                .soak("soak", 100)
                .criterion("hardware-errors", "mandatory: yes")
                .channel(Channel.of("gpu.replays", Metric.PCIE_REPLAYS, Role.GPU_DISCRETE, "gpu"), m -> 0);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.HARDWARE_ERRORS);
    }

    @Test
    void noErrorPasses() throws Exception {
        Finding f = judge(soak());
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("0 uncorrected, 0 corrected");
    }

    @Test
    void anUncorrectedErrorOfAnyPartFails() throws Exception {
        Finding f = judge(soak().channel(
                        Channel.of("cpu.errors", Metric.HARDWARE_ERRORS, Role.CPU, "mce"),
                        m -> m.seconds() == 150 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.evidence()).extracting(Evidence::text).contains("cpu.errors began to grow");
    }

    @Test
    void whatACounterHeldBeforeTheRunIsNotThisRuns() throws Exception {
        // The builder's counters begin at 5,000.
        assertThat(judge(soak().channel(Channel.of("cpu.errors", Metric.HARDWARE_ERRORS, Role.CPU, "mce"), m -> 0))
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @ParameterizedTest
    @EnumSource(
            value = EventKind.class,
            names = {"DEVICE_LOST", "DRIVER_RESET"})
    void aLostDeviceAndADriversResetFail(EventKind kind) throws Exception {
        Finding f = judge(soak().event(150, kind, Map.of("role", "gpu-discrete", "detail", "fell off the bus")));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).contains(kind.word().replace('-', ' ') + " (fell off the bus) at 2:30");
    }

    @ParameterizedTest
    @CsvSource({
        "gpu-off-the-bus, FAIL",
        "machine-check, FAIL",
        "link-corrected, PASS",
        "device-disconnected, PASS",
        "gpu-application, INCONCLUSIVE",
        "a-word-of-a-newer-agent, INCONCLUSIVE",
        "'', PASS"
    })
    void aKernelMessageFailsByTheFaultItTellsOf(String fault, Outcome outcome) throws Exception {
        assertThat(judge(soak().event(150, EventKind.KERNEL_MESSAGE, Map.of("text", "something", "fault", fault)))
                        .outcome())
                .isEqualTo(outcome);
    }

    /** At rest one in a hundred seconds; more than ten in a hundred under load is a tenfold rise. */
    @ParameterizedTest
    @CsvSource({"10, PASS", "11, INCONCLUSIVE", "50, INCONCLUSIVE"})
    void correctedErrorsThatRiseMoreThanTenfoldWithTheLoadAreInconclusive(int underLoad, Outcome outcome)
            throws Exception {
        LogBuilder log = soak().curve(
                        "gpu.replays",
                        m -> m.loaded() ? (m.intoStage() <= underLoad ? 1 : 0) : m.seconds() == 50 ? 1 : 0);
        assertThat(judge(log).outcome()).isEqualTo(outcome);
    }

    @Test
    void aSteadyTrickleOfCorrectedErrorsPasses() throws Exception {
        assertThat(judge(soak().curve("gpu.replays", m -> 1)).outcome()).isEqualTo(Outcome.PASS);
    }

    @Test
    void aFewCorrectedErrorsAreNoRate() throws Exception {
        assertThat(judge(soak().curve("gpu.replays", m -> m.loaded() && m.intoStage() < 9 ? 1 : 0))
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    private static Channel rows() {
        return Channel.of("gpu.memory.rows.uncorrected", Metric.HARDWARE_ERRORS, Role.GPU_DISCRETE, "gpu");
    }

    /** The builder's counters begin at 5,000, which stands for a part's earlier life; they answer late, as after sleep. */
    @Test
    void rowsThatWereRemappedEarlierInThePartsLifeDoNotCount() throws Exception {
        LogBuilder log = soak().channel(rows(), m -> m.seconds() < 20 || m.seconds() % 2 == 1 ? Double.NaN : 0);
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("0 uncorrected, 0 corrected");
    }

    @Test
    void aRowThatIsRemappedDuringTheRunFails() throws Exception {
        Finding f = judge(soak().channel(rows(), m -> m.seconds() < 20 ? Double.NaN : m.seconds() == 150 ? 1 : 0));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.measured()).isEqualTo("1 uncorrected, 0 corrected");
    }

    private static Map<String, Object> lost(String detail) {
        return Map.of("role", "gpu-discrete", "device", "0000:01:00.0", "detail", detail);
    }

    @Test
    void oneLossThatLibraryKernelAndLoadTellOfIsSaidOnce() throws Exception {
        Finding f = judge(soak().event(150, EventKind.DEVICE_LOST, lost("GPU is lost (15)"))
                .event(
                        151,
                        EventKind.KERNEL_MESSAGE,
                        Map.of("text", "Xid 79", "fault", "gpu-off-the-bus", "role", "gpu-discrete"))
                .event(151, EventKind.DEVICE_LOST, lost("fell off the bus"))
                .event(153, EventKind.DEVICE_LOST, lost("the driver says: out of resources")));
        assertThat(f.measured()).isEqualTo("1 uncorrected, 0 corrected");
        assertThat(f.because()).contains("device lost (GPU is lost (15)) at 2:30");
        assertThat(f.evidence()).filteredOn(e -> e.text().contains("lost")).hasSize(1);
    }

    @Test
    void anotherLossAfterAResetAndOneOfAnotherPartAreSaidToo() throws Exception {
        Finding f = judge(soak().event(150, EventKind.DEVICE_LOST, lost("first"))
                .event(155, EventKind.DRIVER_RESET, lost("it answers again"))
                .event(
                        156,
                        EventKind.KERNEL_MESSAGE,
                        Map.of("text", "reset", "fault", "gpu-reset", "role", "gpu-discrete"))
                .event(170, EventKind.DEVICE_LOST, lost("second"))
                .event(171, EventKind.DEVICE_LOST, Map.of("role", "gpu-integrated", "detail", "the other")));
        assertThat(f.measured()).isEqualTo("4 uncorrected, 0 corrected");
    }

    @Test
    void whereNothingCountsTheErrorsOfAProvedPartItIsNotMeasured() throws Exception {
        Finding f = judge(soak().without(c -> c.id().equals("gpu.replays"))
                .channel(Channel.of("cpu.errors", Metric.HARDWARE_ERRORS, Role.CPU, "mce"), m -> 0));
        assertThat(f.outcome()).isEqualTo(Outcome.NOT_MEASURED);
        assertThat(f.because()).contains("the discrete GPU");
    }
}
