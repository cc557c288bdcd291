// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.GraphicsPart;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.linux.file.Tree;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Map;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/**
 * Sleep ({@code Documentation/ABI/testing/sysfs-devices-power}), Intel's throttle flags (the commit that brought
 * {@code throttle_reason_*} to i915; head of {@code xe_gt_throttle.c}), and error counters
 * ({@code sysfs-bus-pci-devices-aer_stats}, {@code admin-guide/ras}), on made-up trees.
 */
class GraphicsTest {
    private static final String BRIDGE = "pci0000:00/0000:00:01.0";
    private static final String DISCRETE = BRIDGE + "/0000:01:00.0";
    private static final String INTEGRATED = "pci0000:00/0000:00:02.0";

    @TempDir
    Path folder;

    private Tree tree;

    @BeforeEach
    void twoGpus() {
        tree = new Tree(folder);
        tree.pci(BRIDGE, "0x060400", "0x8086", "0x460d");
        tree.pci(DISCRETE, "0x030000", "0x10de", "0x2520");
        tree.pci(INTEGRATED, "0x030000", "0x8086", "0x46a6");
        tree.link("sys/bus/pci/devices/0000:00:02.0", "sys/devices/" + INTEGRATED);
        tree.link("sys/bus/pci/devices/0000:00:01.0", "sys/devices/" + BRIDGE);
        tree.link("sys/bus/pci/devices/0000:01:00.0", "sys/devices/" + DISCRETE);
    }

    private void power(String device, String control, String status, String suspendedMillis) {
        String power = "sys/devices/" + device + "/power/";
        tree.file(power + "control", control)
                .file(power + "runtime_status", status)
                .file(power + "runtime_suspended_time", suspendedMillis);
    }

    private GraphicsPart discrete() {
        return LinuxSensors.graphicsParts(tree.root()).stream()
                .filter(p -> p.role() == Role.GPU_DISCRETE)
                .findFirst()
                .orElseThrow();
    }

    @Test
    void theBusNamesGpusAndNothingElse() {
        assertThat(LinuxSensors.graphicsParts(tree.root()))
                .extracting(p -> p.address() + " " + p.vendor() + " " + p.role().word())
                .containsExactly("0000:00:02.0 8086 gpu-integrated", "0000:01:00.0 10de gpu-discrete");
    }

    @ParameterizedTest(name = "control {0}, status {1}, slept {2} ms")
    @CsvSource({
        "auto, suspended,   4000, true,  true",
        "auto, suspending,  4000, true,  true",
        "auto, suspended,   0,    true,  true",
        "auto, active,      4000, false, true", // asking would keep it from its sleep
        "auto, active,      0,    false, false", // it may sleep and never has: a desktop
        "on,   active,      4000, false, false",
        "on,   unsupported, 0,    false, false"
    })
    void sleepIsToldFromTheKernelsFilesAlone(
            String control, String status, String slept, boolean asleep, boolean disturbed) {
        power(DISCRETE, control, status, slept);
        assertThat(discrete().sleep().isAsleep()).isEqualTo(asleep);
        assertThat(discrete().sleep().isDisturbedByAsking()).isEqualTo(disturbed);
    }

    @Test
    void partWithoutPowerManagementNeverSleeps() {
        assertThat(discrete().sleep().isAsleep()).isFalse();
        assertThat(discrete().sleep().isDisturbedByAsking()).isFalse();
    }

    @Test
    void statusThatCannotBeReadCountsAsSleep() {
        tree.file("sys/devices/" + DISCRETE + "/power/runtime_status", "");
        assertThat(discrete().sleep().isDisturbedByAsking()).isTrue();
    }

    @Test
    void sleepAndWakingAreAChannel() throws IOException {
        power(DISCRETE, "auto", "suspended", "4000");
        power(INTEGRATED, "on", "active", "0");
        Discovery found = tree.discover();
        assertThat(Tree.read(found))
                .containsEntry("gpu-discrete.awake", 0.0)
                .containsEntry("gpu-integrated.awake", 1.0);
        power(DISCRETE, "auto", "active", "4000");
        assertThat(Tree.read(found)).containsEntry("gpu-discrete.awake", 1.0);
        Channel channel = Tree.channel(found, "gpu-discrete.awake");
        assertThat(channel.metric()).isEqualTo(Metric.DEVICE_AWAKE);
        assertThat(channel.component()).isEqualTo("0000:01:00.0");
    }

    private void card(int number, String device) {
        tree.mkdir("sys/devices/" + device + "/drm/card" + number);
        tree.link("sys/devices/" + device + "/drm/card" + number + "/device", "sys/devices/" + device);
        tree.link("sys/class/drm/card" + number, "sys/devices/" + device + "/drm/card" + number);
    }

    private static final String[] I915 = {
        "status", "pl1", "pl2", "pl4", "thermal", "prochot", "ratl", "vr_thermalert", "vr_tdc"
    };

    @ParameterizedTest(name = "{0}")
    @CsvSource({
        "none,          0, 0, 0",
        "pl1,           0, 0, 1",
        "pl2,           0, 0, 1",
        "pl4,           0, 0, 1",
        "vr_tdc,        0, 0, 1",
        "thermal,       1, 0, 0",
        "ratl,          1, 0, 0",
        "vr_thermalert, 1, 0, 0",
        "prochot,       0, 1, 0"
    })
    void flagsOfBothIntelDriversAreToldByCause(String set, double heat, double slowdown, double cap)
            throws IOException {
        card(0, INTEGRATED);
        card(1, DISCRETE); // any card of the other driver, here by its shape only
        for (String flag : I915) {
            String value = flag.equals(set) ? "1" : "0";
            tree.file("sys/devices/" + INTEGRATED + "/drm/card0/gt/gt0/throttle_reason_" + flag, value);
            String file = flag.equals("status") ? "status" : "reason_" + flag;
            tree.file("sys/devices/" + DISCRETE + "/tile0/gt0/freq0/throttle/" + file, value);
        }
        Discovery found = tree.discover();
        for (String part : new String[] {"gpu-integrated", "gpu-discrete"}) {
            assertThat(Tree.read(found))
                    .containsEntry(part + ".throttle.heat.active", heat)
                    .containsEntry(part + ".throttle.hardware-slowdown.active", slowdown)
                    .containsEntry(part + ".throttle.power-cap.active", cap);
        }
        assertThat(Tree.channel(found, "gpu-integrated.throttle.heat.active").cause())
                .contains(Cause.HEAT);
    }

    @Test
    void flagsOfASleepingPartAreNotRead() throws IOException {
        card(0, INTEGRATED);
        power(INTEGRATED, "auto", "suspended", "10");
        tree.file("sys/devices/" + INTEGRATED + "/drm/card0/gt/gt0/throttle_reason_thermal", "1");
        assertThat(Tree.read(tree.discover())).containsEntry("gpu-integrated.throttle.heat.active", Double.NaN);
    }

    private void aer(String device, long corrected, long nonfatal, long fatal) {
        String folder = "sys/devices/" + device + "/";
        tree.file(
                        folder + "aer_dev_correctable",
                        "RxErr " + corrected + "\nBadTLP 0\nBadDLLP 0\nRollover 0\nTimeout 0\nNonFatalErr 0\n"
                                + "CorrIntErr 0\nHeaderOF 0\nTOTAL_ERR_COR " + corrected)
                .file(folder + "aer_dev_nonfatal", uncorrected("TOTAL_ERR_NONFATAL", nonfatal))
                .file(folder + "aer_dev_fatal", uncorrected("TOTAL_ERR_FATAL", fatal));
    }

    private static String uncorrected(String total, long errors) {
        return "Undefined 0\nDLP 0\nSDES 0\nTLP " + errors + "\nFCP 0\nCmpltTO 0\nCmpltAbrt 0\nUnxCmplt 0\nRxOF 0\n"
                + "MalfTLP 0\nECRC 0\nUnsupReq 0\nACSViol 0\nUncorrIntErr 0\nBlockedTLP 0\nAtomicOpBlocked 0\n"
                + "TLPBlockedErr 0\nPoisonTLPBlocked 0\n" + total + " " + errors;
    }

    @Test
    void linkErrorsOfTheGpuAndItsBridgeAreCounted() throws IOException {
        aer(DISCRETE, 12, 3, 1);
        aer(BRIDGE, 7, 0, 0);
        Discovery found = tree.discover();
        assertThat(Tree.read(found))
                .containsEntry("gpu-discrete.link.errors.corrected", 12.0)
                .containsEntry("gpu-discrete.link.errors.uncorrected", 4.0)
                .containsEntry("bridge.link.errors.corrected", 7.0)
                .containsEntry("bridge.link.errors.uncorrected", 0.0);
        Channel bridge = Tree.channel(found, "bridge.link.errors.corrected");
        assertThat(bridge.component()).isEqualTo("0000:00:01.0");
        assertThat(bridge.role()).isEqualTo(Role.GPU_DISCRETE);
        assertThat(bridge.metric()).isEqualTo(Metric.CORRECTED_ERRORS);
    }

    @Test
    void linkWithoutErrorReportingIsMissing() {
        assertThat(tree.discover().missing()).extracting(Missing::what).contains("errors of the GPU's link");
    }

    @Test
    void counterFileWithoutItsTotalIsNoZero() {
        tree.file("sys/devices/" + DISCRETE + "/aer_dev_correctable", "RxErr 0");
        Discovery found = tree.discover();
        assertThatThrownBy(() -> Tree.read(found)).hasMessageContaining("TOTAL_ERR_COR");
    }

    @Test
    void memoryErrorsAreCountedByController() throws IOException {
        tree.file("sys/devices/system/edac/mc/mc0/ce_count", "5").file("sys/devices/system/edac/mc/mc0/ue_count", "1");
        Map<String, Double> values = Tree.read(tree.discover());
        assertThat(values)
                .containsEntry("memory.mc0.errors.corrected", 5.0)
                .containsEntry("memory.mc0.errors.uncorrected", 1.0);
    }
}
