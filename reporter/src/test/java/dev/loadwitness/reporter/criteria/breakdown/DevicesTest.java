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
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

public class DevicesTest {
    @TempDir
    Path folder;

    private static Map<String, Object> device(String role, String name, String id, String... marks) {
        Map<String, Object> facts = new LinkedHashMap<>(Map.of("role", role, "device", name, "id", id));
        for (String mark : marks) {
            facts.put(mark, true);
        }
        return facts;
    }

    private static final Map<String, Object> KEYBOARD = device("input", "keyboard: built-in", "input-serio0");
    private static final Map<String, Object> DISK = device("storage", "disk: Kestrel 1TB", "disk-1");
    private static final Map<String, Object> WIRELESS = device("network", "wireless network: 8086:2725", "pci-3");
    private static final Map<String, Object> GPU = device("gpu-discrete", "gpu-discrete: Corvid G7", "pci-1");
    private static final Map<String, Object> MOUSE = device("input", "pointing device: mouse", "usb-1", "removable");
    private static final Map<String, Object> STICK =
            device("storage", "storage: stick", "usb-2", "removable", "witness");

    /** What every test has at the start. */
    public static LogBuilder watched(LogBuilder log) {
        return watched(log, 0.5);
    }

    /** The devices are told at that moment: once in each boot. */
    public static LogBuilder watched(LogBuilder log, double seconds) {
        for (Map<String, Object> d : List.of(KEYBOARD, DISK, WIRELESS, GPU, MOUSE, STICK)) {
            log.event(seconds, EventKind.DEVICE_PRESENT, d);
        }
        return log;
    }

    private static LogBuilder soak() {
        return watched(LogBuilder.gpuSoak(100, "devices", "mandatory: yes"));
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.DEVICES);
    }

    @Test
    void whatIsThereThroughoutPasses() throws Exception {
        Finding f = judge(soak());
        assertThat(f.outcome()).as(f.because()).isEqualTo(Outcome.PASS);
        assertThat(f.measured()).isEqualTo("0 left");
    }

    @Test
    void aKeyboardThatDropsOutIsNamedWithItsTimes() throws Exception {
        Finding f =
                judge(soak().event(60, EventKind.DEVICE_LEFT, KEYBOARD).event(65, EventKind.DEVICE_ARRIVED, KEYBOARD));
        assertThat(f.outcome()).isEqualTo(Outcome.FAIL);
        assertThat(f.because()).startsWith("Keyboard: built-in left at 1:00 and came back at 1:05");
        assertThat(judge(soak().event(60, EventKind.DEVICE_LEFT, GPU)).because())
                .contains("and stayed away");
    }

    @Test
    void whatCanBePulledOutByHandIsInconclusive() throws Exception {
        assertThat(judge(soak().event(60, EventKind.DEVICE_LEFT, MOUSE)).outcome())
                .isEqualTo(Outcome.INCONCLUSIVE);
    }

    @Test
    void theStickWithTheLogAndOtherDevicesAreReportedOnly() throws Exception {
        Finding f = judge(soak().event(60, EventKind.DEVICE_LEFT, STICK)
                .event(61, EventKind.DEVICE_LEFT, device("board", "camera", "usb-9"))
                .event(62, EventKind.DEVICE_ARRIVED, device("input", "keyboard: new", "usb-7")));
        assertThat(f.outcome()).isEqualTo(Outcome.PASS);
        assertThat(f.evidence())
                .extracting(Evidence::text)
                .containsExactly("storage: stick left: not judged", "camera left: not judged", "keyboard: new came");
    }

    @Test
    void whatComesBackFromSleepHasNotDroppedOut() throws Exception {
        LogBuilder slept = soak().event(60, EventKind.SUSPENDED, Map.of("seconds", 30.0))
                .event(62, EventKind.DEVICE_LEFT, KEYBOARD);
        assertThat(judge(slept).because()).contains("did not come back from sleep");
        assertThat(judge(slept.event(67, EventKind.DEVICE_ARRIVED, KEYBOARD)).outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void aLogOfAnAgentThatDidNotWatchMeasuresNothing() throws Exception {
        assertThat(judge(LogBuilder.gpuSoak(100, "devices", "mandatory: yes")).outcome())
                .isEqualTo(Outcome.NOT_MEASURED);
    }

    @Test
    void aKeyboardThatWasNeverThereIsNotPassed() throws Exception {
        LogBuilder log = LogBuilder.gpuSoak(100, "devices", "mandatory: yes");
        for (Map<String, Object> d : List.of(DISK, WIRELESS, GPU, MOUSE)) {
            log.event(0.5, EventKind.DEVICE_PRESENT, d);
        }
        Finding f = judge(log);
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).startsWith("No keyboard was there");
    }

    private static LogBuilder integrated() {
        LogBuilder log =
                LogBuilder.laptop().idle("idle", 60).absent("gpu-discrete").criterion("devices", "mandatory: yes");
        for (Map<String, Object> d : List.of(KEYBOARD, DISK, WIRELESS)) {
            log.event(0.5, EventKind.DEVICE_PRESENT, d);
        }
        return log;
    }

    @Test
    void aPartThatMustBeAbsentAndIsPasses() throws Exception {
        assertThat(judge(integrated()).outcome()).isEqualTo(Outcome.PASS);
    }

    @ParameterizedTest(name = "awake reads {0} at second 30: {1}")
    @CsvSource({"0, PASS", "1, FAIL"})
    void aPartThatMustBeAbsentMaySleepButNotWake(double awake, Outcome outcome) throws Exception {
        Finding f = judge(integrated()
                .event(0.6, EventKind.DEVICE_PRESENT, GPU)
                .channel(
                        Channel.of("gpu.awake", Metric.DEVICE_AWAKE, Role.GPU_DISCRETE, "pci"),
                        m -> m.seconds() == 30 ? awake : 0));
        assertThat(f.outcome()).as(f.because()).isEqualTo(outcome);
        if (outcome == Outcome.FAIL) {
            assertThat(f.because()).contains("was awake at 0:30");
        }
    }

    @Test
    void aPartThatMustBeAbsentAndOfWhoseSleepNothingTellsIsInconclusive() throws Exception {
        assertThat(judge(integrated().event(0.6, EventKind.DEVICE_PRESENT, GPU)).outcome())
                .isEqualTo(Outcome.INCONCLUSIVE);
    }
}
