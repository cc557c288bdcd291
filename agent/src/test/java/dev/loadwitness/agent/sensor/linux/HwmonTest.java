// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Tree;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** Units and names after the kernel's {@code Documentation/hwmon/sysfs-interface.rst}; drivers after their own pages. */
class HwmonTest {
    private static final String DISCRETE = "pci0000:00/0000:00:01.0/0000:01:00.0";
    private static final String APU = "pci0000:00/0000:00:08.1/0000:05:00.0";

    @TempDir
    Path folder;

    private Tree tree;

    @BeforeEach
    void emptyTree() {
        tree = new Tree(folder);
    }

    @Test
    void kernelUnitsBecomeTheMetricsUnits() throws IOException {
        tree.hwmon(
                0,
                "platform/chip.0",
                "someec",
                "temp1_input",
                "87000",
                "power1_average",
                "95250000",
                "in0_input",
                "3312",
                "fan1_input",
                "4210",
                "energy1_input",
                "2500000");
        Map<String, Double> values = Tree.read(tree.discover());
        assertThat(values)
                .containsEntry("board.someec.temp1.temperature", 87.0)
                .containsEntry("board.someec.power1.power", 95.25)
                .containsEntry("board.someec.in0.voltage", 3.312)
                .containsEntry("fan.someec.fan1.speed", 4210.0)
                .containsEntry("board.someec.energy1.energy", 2.5);
    }

    @Test
    void coretempPackageIsTheCpuTemperatureAndItsCritIsWhereItThrottles() throws IOException {
        tree.hwmon(
                3,
                "platform/coretemp.0",
                "coretemp",
                "temp2_input",
                "61000",
                "temp2_label",
                "Core 0",
                "temp6_input",
                "58000",
                "temp6_label",
                "Core 4",
                "temp1_input",
                "63000",
                "temp1_label",
                "Package id 0",
                "temp1_max",
                "100000",
                "temp1_crit",
                "105000");
        Discovery found = tree.discover();
        assertThat(Tree.read(found))
                .containsEntry("cpu.package.temperature", 63.0)
                .containsEntry("cpu.core0.temperature", 61.0)
                .containsEntry("cpu.core4.temperature", 58.0);
        Channel chip = Tree.channel(found, "cpu.package.temperature");
        assertThat(found.channels().get(0))
                .as("the one that stands for the CPU comes first")
                .isEqualTo(chip);
        assertThat(chip.role()).isEqualTo(Role.CPU);
        assertThat(chip.component()).isEqualTo("platform/coretemp.0");
        assertThat(chip.label()).isEqualTo("Package id 0");
        assertThat(chip.source()).isEqualTo("hwmon/coretemp");
        assertThat(chip.limits())
                .containsOnly(Map.entry(LimitType.HIGH_DEGRADED, 100.0), Map.entry(LimitType.THROTTLED, 105.0));
        assertThat(found.missing()).extracting(Missing::what).doesNotContain("CPU temperature");
    }

    @Test
    void amdsDieTemperatureIsPreferredToItsFanControlScale() throws IOException {
        tree.hwmon(
                0,
                "pci0000:00/0000:00:18.3",
                "k10temp",
                "temp1_input",
                "92125",
                "temp1_label",
                "Tctl",
                "temp2_input",
                "65125",
                "temp2_label",
                "Tdie",
                "temp3_input",
                "64000",
                "temp3_label",
                "Tccd1");
        assertThat(Tree.read(tree.discover()))
                .containsEntry("cpu.package.temperature", 65.125)
                .containsEntry("cpu.tctl.temperature", 92.125)
                .containsEntry("cpu.ccd1.temperature", 64.0);
    }

    @Test
    void amdsControlTemperatureStandsForTheCpuWhereNoOtherIsOffered() throws IOException {
        tree.hwmon(0, "pci0000:00/0000:00:18.3", "k10temp", "temp1_input", "55000", "temp1_label", "Tctl");
        assertThat(Tree.read(tree.discover())).containsEntry("cpu.package.temperature", 55.0);
    }

    private void amdgpu(int number, String device, String... more) {
        tree.pci(device, "0x030000", "0x1002", "0x73df");
        tree.file("sys/devices/" + device + "/gpu_busy_percent", "97");
        tree.file("sys/devices/" + device + "/power/runtime_status", "active");
        String chip = tree.hwmon(
                number,
                device,
                "amdgpu",
                "temp1_input",
                "71000",
                "temp1_label",
                "edge",
                "temp1_crit",
                "100000",
                "temp1_emergency",
                "105000",
                "temp1_crit_hyst",
                "-273150",
                "freq1_input",
                "2205000000",
                "freq1_label",
                "sclk",
                "freq2_input",
                "1000000000",
                "freq2_label",
                "mclk",
                "power1_average",
                "115000000",
                "power1_label",
                "PPT",
                "power1_cap",
                "120000000",
                "power1_cap_max",
                "140000000",
                "fan1_input",
                "0");
        for (int i = 0; i < more.length; i += 2) {
            tree.file(chip + "/" + more[i], more[i + 1]);
        }
    }

    @Test
    void discreteAmdGpuGivesTemperaturesClocksLoadPowerAndItsLimit() throws IOException {
        amdgpu(4, DISCRETE, "temp2_input", "84000", "temp2_label", "junction", "temp2_crit", "110000");
        Discovery found = tree.discover();
        assertThat(Tree.read(found))
                .containsEntry("gpu-discrete.edge.temperature", 71.0)
                .containsEntry("gpu-discrete.junction.temperature", 84.0)
                .containsEntry("gpu-discrete.sclk.clock", 2.205e9)
                .containsEntry("gpu-discrete.mclk.clock", 1e9)
                .containsEntry("gpu-discrete.ppt.power", 115.0)
                .containsEntry("gpu-discrete.power.limit", 120.0)
                .containsEntry("gpu-discrete.utilization", 0.97)
                .containsEntry("fan.amdgpu.fan1.speed", 0.0);
        assertThat(Tree.channel(found, "gpu-discrete.edge.temperature").limits())
                .containsOnly(Map.entry(LimitType.THROTTLED, 100.0), Map.entry(LimitType.HIGH_CRITICAL, 105.0));
        assertThat(Tree.channel(found, "gpu-discrete.power.limit").limits()).containsEntry(LimitType.MAX, 140.0);
        assertThat(Tree.channel(found, "gpu-discrete.mclk.clock").is(Role.GPU_DISCRETE, Metric.GPU_MEMORY_CLOCK))
                .isTrue();
    }

    @Test
    void theHighestLevelOfAmdsClockTablesIsTheLimitOfTheClock() {
        amdgpu(4, DISCRETE);
        tree.file("sys/devices/" + DISCRETE + "/pp_dpm_sclk", "0: 500Mhz\n1: 2230Mhz *\n2: 2575Mhz");
        Discovery found = tree.discover();
        assertThat(Tree.channel(found, "gpu-discrete.sclk.clock").limits())
                .containsOnly(Map.entry(LimitType.MAX, 2.575e9));
        assertThat(Tree.channel(found, "gpu-discrete.mclk.clock").limits())
                .as("no table")
                .isEmpty();
    }

    @Test
    void theClockTablesOfASleepingGpuAreNotRead() {
        amdgpu(4, DISCRETE);
        tree.file("sys/devices/" + DISCRETE + "/pp_dpm_sclk", "0: 500Mhz\n1: 2575Mhz *");
        tree.file("sys/devices/" + DISCRETE + "/power/runtime_status", "suspended");
        assertThat(Tree.channel(tree.discover(), "gpu-discrete.sclk.clock").limits())
                .isEmpty();
    }

    @Test
    void gpuBesideTheSecurityProcessorIsTheIntegratedOne() throws IOException {
        amdgpu(4, DISCRETE);
        amdgpu(5, APU);
        tree.pci("pci0000:00/0000:00:08.1/0000:05:00.2", "0x108000", "0x1022", "0x15df");
        Discovery found = tree.discover();
        assertThat(Tree.channel(found, "gpu-integrated.edge.temperature").component())
                .isEqualTo(APU);
        assertThat(Tree.channel(found, "gpu-discrete.edge.temperature").component())
                .isEqualTo(DISCRETE);
    }

    @Test
    void gpuWithNorthbridgeVoltageIsTheIntegratedOne() throws IOException {
        amdgpu(5, APU, "in1_input", "900", "in1_label", "vddnb");
        assertThat(tree.discover().offers(Role.GPU_INTEGRATED, Metric.TEMPERATURE))
                .isTrue();
    }

    @Test
    void gpuOnTheRootBusIsIntegratedAndOneBehindABridgeDiscrete() throws IOException {
        tree.pci("pci0000:00/0000:00:02.0", "0x030000", "0x8086", "0x9a49");
        tree.hwmon(1, "pci0000:00/0000:00:02.0", "i915", "energy1_input", "1000000");
        tree.pci(DISCRETE, "0x030200", "0x10de", "0x2520");
        tree.hwmon(
                2,
                DISCRETE,
                "nouveau",
                "temp1_input",
                "50000",
                "temp1_max",
                "95000",
                "temp1_crit",
                "105000",
                "temp1_emergency",
                "135000");
        Discovery found = tree.discover();
        assertThat(found.offers(Role.GPU_INTEGRATED, Metric.ENERGY)).isTrue();
        assertThat(Tree.channel(found, "gpu-discrete.temp1.temperature").limits())
                .as("nouveau downclocks at max")
                .containsEntry(LimitType.THROTTLED, 95.0)
                .containsEntry(LimitType.HIGH_CRITICAL, 135.0);
    }

    @Test
    void nvidiaGpuIsDiscreteEvenOnTheRootBus() {
        String device = "pci0000:00/0000:00:06.0";
        tree.pci(device, "0x030000", "0x10de", "0x2520");
        tree.hwmon(2, device, "nouveau", "temp1_input", "50000");
        Discovery found = tree.discover();
        assertThat(found.offers(Role.GPU_DISCRETE, Metric.TEMPERATURE)).isTrue();
        assertThat(found.offers(Role.GPU_INTEGRATED, Metric.TEMPERATURE)).isFalse();
    }

    @Test
    void sleepingGpuIsLeftAlone() throws IOException {
        amdgpu(4, DISCRETE);
        Discovery found = tree.discover();
        Source gpu = Tree.source(found, "hwmon/amdgpu");
        tree.file("sys/devices/" + DISCRETE + "/power/runtime_status", "suspended");
        // What opening or reading a file of the GPU would show: garbage makes a read fail, and none must be tried.
        String chip = "sys/devices/" + DISCRETE + "/hwmon/hwmon4/";
        for (String name :
                List.of("temp1_input", "freq1_input", "freq2_input", "power1_average", "power1_cap", "fan1_input")) {
            tree.file(chip + name, "woken");
        }
        tree.file("sys/devices/" + DISCRETE + "/gpu_busy_percent", "woken");
        double[] values = new double[gpu.channels().size()];
        gpu.read(values, 0);
        assertThat(values).containsOnly(Double.NaN);
        tree.file("sys/devices/" + DISCRETE + "/power/runtime_status", "active");
        assertThatThrownBy(() -> gpu.read(values, 0)).as("awake, it is read").hasMessageContaining("woken");
    }

    @Test
    void gpuThatSleepsDuringTheSearchIsOfferedWithWhatItsDriverKnowsByHeart() throws IOException {
        amdgpu(4, DISCRETE);
        tree.file("sys/devices/" + DISCRETE + "/power/runtime_status", "suspended");
        Discovery found = tree.discover();
        assertThat(Tree.channel(found, "gpu-discrete.edge.temperature").limits())
                .containsEntry(LimitType.THROTTLED, 100.0);
        assertThat(Tree.channel(found, "gpu-discrete.power.limit").limits())
                .as("asking for this one would wake it")
                .isEmpty();
        assertThat(Tree.read(found)).containsEntry("gpu-discrete.edge.temperature", Double.NaN);
        tree.file("sys/devices/" + DISCRETE + "/power/runtime_status", "active");
        assertThat(Tree.read(found)).containsEntry("gpu-discrete.edge.temperature", 71.0);
    }

    @Test
    void otherChipsFindTheirPart() {
        tree.hwmon(
                0,
                "pci0000:00/0000:00:1d.0/0000:03:00.0/nvme/nvme0",
                "nvme",
                "temp1_input",
                "41850",
                "temp1_label",
                "Composite",
                "temp1_max",
                "81850",
                "temp1_crit",
                "84850",
                "temp2_input",
                "45000",
                "temp2_label",
                "Sensor 1",
                "temp2_max",
                "65261850");
        tree.hwmon(1, "virtual/thermal/thermal_zone0", "acpitz", "temp1_input", "27800", "temp1_crit", "119000");
        tree.hwmon(2, "virtual/thermal/thermal_zone5", "iwlwifi_1", "temp1_input", "48000");
        tree.hwmon(6, "platform/ec", "some_ec", "fan1_input", "0", "fan1_label", "CPU Fan", "fan1_max", "5600");
        Discovery found = tree.discover();
        Channel disk = Tree.channel(found, "storage.composite.temperature");
        assertThat(disk.role()).isEqualTo(Role.STORAGE);
        assertThat(disk.limits())
                .containsEntry(LimitType.HIGH_DEGRADED, 81.85)
                .containsEntry(LimitType.HIGH_CRITICAL, 84.85);
        assertThat(Tree.channel(found, "storage.sensor-1.temperature").limits())
                .as("the drive's 'none' is not a limit")
                .isEmpty();
        assertThat(Tree.channel(found, "board.acpitz.temp1.temperature").role()).isEqualTo(Role.BOARD);
        assertThat(Tree.channel(found, "network.temp1.temperature").role()).isEqualTo(Role.NETWORK);
        assertThat(Tree.channel(found, "fan.some-ec.cpu-fan.speed").limits()).containsEntry(LimitType.MAX, 5600.0);
        assertThat(found.missing())
                .extracting(Missing::what)
                .contains("CPU temperature")
                .doesNotContain("fan speed");
    }

    @Test
    void idsStayWithTheirDevicesWhenTheKernelNumbersChipsOtherwise(@TempDir Path otherFolder) {
        String near = "pci0000:00/0000:00:1d.0/0000:03:00.0/nvme/nvme";
        String far = "pci0000:00/0000:00:1d.4/0000:04:00.0/nvme/nvme";
        tree.hwmon(0, near + "0", "nvme", "temp1_input", "41000", "temp1_label", "Composite");
        tree.hwmon(1, far + "1", "nvme", "temp1_input", "51000", "temp1_label", "Composite");
        Tree other = new Tree(otherFolder);
        other.hwmon(1, near + "1", "nvme", "temp1_input", "41000", "temp1_label", "Composite");
        other.hwmon(0, far + "0", "nvme", "temp1_input", "51000", "temp1_label", "Composite");
        for (Tree boot : List.of(tree, other)) {
            Discovery found = boot.discover();
            assertThat(Tree.channel(found, "storage.composite.temperature").component())
                    .contains("03:00.0");
            assertThat(Tree.channel(found, "storage-2.composite.temperature").component())
                    .contains("04:00.0");
        }
    }

    @Test
    void oddLabelsGiveLawfulIdsAndHarmlessText() {
        tree.hwmon(
                0,
                "platform/ec",
                "some_ec",
                "temp1_input",
                "40000",
                "temp1_label",
                "  VRM\u001b[31m #1 / \u00d6l ",
                "temp2_input",
                "41000",
                "temp2_label",
                "VRM 31m 1 l",
                "temp3_input",
                "42000",
                "temp3_label",
                "\u4e3b\u677f",
                "temp4_input",
                "42000",
                "temp4_label",
                "x".repeat(5000));
        Discovery found = tree.discover();
        assertThat(Tree.channel(found, "board.some-ec.vrm-31m-1-l.temperature").label())
                .isEqualTo("VRM?[31m #1 / \u00d6l");
        assertThat(Tree.channel(found, "board-2.some-ec.vrm-31m-1-l.temperature")
                        .label())
                .isEqualTo("VRM 31m 1 l");
        assertThat(Tree.channel(found, "board.some-ec.temp3.temperature").label())
                .isEqualTo("\u4e3b\u677f");
        assertThat(found.channels()).hasSizeGreaterThanOrEqualTo(4);
    }

    @Test
    void garbageEmptyAndImpossibleValuesAreNoReadingsAndCostOnlyTheirChannel() throws IOException {
        String chip = tree.hwmon(
                0,
                "platform/ec",
                "some_ec",
                "temp1_input",
                "40000",
                "temp2_input",
                "41000",
                "temp3_input",
                "42000",
                "temp4_input",
                "43000",
                "temp5_input",
                "44000",
                "temp6_input",
                "45000");
        Discovery found = tree.discover();
        tree.file(chip + "/temp2_input", "garbage");
        tree.file(chip + "/temp3_input", "");
        tree.file(chip + "/temp4_input", "18446744073709594616"); // 2^64 + 43000
        tree.file(chip + "/temp5_input", "65535000");
        tree.file(chip + "/temp6_input", "-12500");
        Source source = Tree.source(found, "hwmon/some_ec");
        double[] values = new double[6];
        source.read(values, 0);
        assertThat(values).containsExactly(40, Double.NaN, Double.NaN, Double.NaN, Double.NaN, -12.5);
        tree.file(chip + "/temp3_input", "42500");
        source.read(values, 0);
        assertThat(values[2]).isCloseTo(42.5, within(1e-9));
    }

    @Test
    void deviceThatLeavesIsSilentWithAReasonAndIsReadAgainWhenItIsBack() throws IOException {
        String chip = tree.hwmon(0, "platform/ec", "some_ec", "temp1_input", "40000");
        Source source = Tree.source(tree.discover(), "hwmon/some_ec");
        double[] values = new double[1];
        source.read(values, 0);
        Path file = tree.path(chip + "/temp1_input");
        // A kept-open kernel file of a removed device fails; an ordinary file's last content must be emptied to be
        // gone.
        tree.file(chip + "/temp1_input", "");
        Files.delete(file);
        assertThatThrownBy(() -> source.read(values, 0)).isInstanceOf(IOException.class);
        assertThatThrownBy(() -> source.read(values, 0)).hasMessageContaining("NoSuchFile");
        assertThat(values).containsExactly(Double.NaN);
        tree.file(chip + "/temp1_input", "39000");
        source.read(values, 0);
        assertThat(values).containsExactly(39.0);
    }

    @Test
    void deviceThatComesBackUnderAnotherNumberIsReadAndItsOldNumbersNewOwnerIsNot() throws IOException {
        String chip = tree.hwmon(4, DISCRETE, "nouveau", "temp1_input", "70000");
        tree.pci(DISCRETE, "0x030000", "0x10de", "0x2520");
        Source source = Tree.source(tree.discover(), "hwmon/nouveau");
        tree.file(chip + "/temp1_input", "");
        Files.delete(tree.path(chip + "/temp1_input"));
        Files.delete(tree.path(chip + "/device"));
        Files.delete(tree.path(chip + "/name"));
        Files.delete(tree.path(chip));
        Files.delete(tree.path("sys/class/hwmon/hwmon4"));
        tree.hwmon(4, "usb/other", "other", "temp1_input", "20000");
        double[] values = new double[1];
        for (int i = 0; i < 2; i++) {
            assertThatThrownBy(() -> source.read(values, 0)).isInstanceOf(IOException.class);
        }
        tree.hwmon(7, DISCRETE, "nouveau", "temp1_input", "71000");
        source.read(values, 0);
        assertThat(values).containsExactly(71.0);
    }

    @Test
    void whatCannotBeReadIsMissingWithAReasonAndNotOffered() {
        String chip = tree.hwmon(0, "platform/ec", "some_ec", "temp1_input", "40000");
        tree.mkdir(chip + "/temp2_input"); // root may read any file, but no folder
        Discovery found = tree.discover();
        assertThat(found.channels()).extracting(Channel::id).doesNotContain("board.some-ec.temp2.temperature");
        assertThat(found.missing())
                .contains(new Missing(
                        "hwmon/some_ec temp2_input",
                        "temp2_input is not a file",
                        "run as root if permission is what lacks; else go on without it"));
    }
}
