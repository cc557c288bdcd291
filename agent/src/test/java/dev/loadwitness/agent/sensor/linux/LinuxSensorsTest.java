// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assumptions.assumeThat;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Readings;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.agent.sensor.SensorFact.SourceBack;
import dev.loadwitness.agent.sensor.SensorFact.SourceSilent;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Tree;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.channels.SeekableByteChannel;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.StandardOpenOption;
import java.time.Duration;
import java.util.List;
import java.util.Map;
import java.util.concurrent.TimeUnit;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;

@Timeout(60)
class LinuxSensorsTest {
    @TempDir
    Path folder;

    private Tree tree;

    @BeforeEach
    void emptyTree() {
        tree = new Tree(folder);
    }

    /** A file whose opening blocks until somebody writes: as close to a hanging driver as a test gets without one. */
    private static void fifo(Path path) throws IOException, InterruptedException {
        Process process =
                new ProcessBuilder("mkfifo", path.toString()).inheritIO().start();
        assertThat(process.waitFor()).isZero();
    }

    @Test
    void kernelFileThatHangsWhileSamplingCostsOnlyItsChip() throws Exception {
        String bad = tree.hwmon(0, "platform/bad", "bad_ec", "temp1_input", "40000");
        tree.hwmon(1, "platform/good", "good_ec", "temp1_input", "50000");
        Discovery found = tree.discover();
        try (SensorBank bank = new SensorBank(found.sources(), Duration.ofSeconds(1))) {
            assertThat(bank.channels())
                    .extracting(Channel::id)
                    .containsExactly("board.bad-ec.temp1.temperature", "board.good-ec.temp1.temperature");
            assertThat(bank.take(0).values()).containsExactly(40, 50);

            Path file = tree.path(bad + "/temp1_input");
            tree.file(bad + "/temp1_input", "");
            Files.delete(file);
            fifo(file);
            assertThat(bank.take(1).facts())
                    .as("the kept-open file has gone")
                    .containsExactly(new SourceSilent("hwmon/bad_ec", "temp1_input is empty"));
            for (int i = 2; i < 5; i++) {
                Readings reading = bank.take(i);
                assertThat(reading.values()).as("opening it again hangs").containsExactly(Double.NaN, 50);
                assertThat(reading.facts()).isEmpty();
            }

            // As soon as somebody writes, the opening ends; the file that is there by then is an ordinary one again.
            // Opened for both ways, since opening for writing alone would hang where nobody reads.
            try (SeekableByteChannel release =
                    Files.newByteChannel(file, StandardOpenOption.READ, StandardOpenOption.WRITE)) {
                assertThat(release.isOpen()).isTrue();
                Files.delete(file);
                tree.file(bad + "/temp1_input", "41000");
            }
            SensorFact fact = null;
            for (int i = 0; fact == null; i++) {
                assertThat(i).as("takes until it is back").isLessThan(100);
                Readings reading = bank.take(Duration.ofSeconds(9).toNanos() + 1);
                fact = reading.facts().isEmpty() ? null : reading.facts().get(0);
                if (fact != null) {
                    assertThat(reading.values()).containsExactly(41, 50);
                }
                TimeUnit.MILLISECONDS.sleep(10);
            }
            assertThat(fact).isEqualTo(new SourceBack("hwmon/bad_ec", Duration.ofSeconds(9)));
        }
    }

    @Test
    void kernelFileThatHangsDuringTheSearchCostsOnlyItsChip() throws Exception {
        String bad = tree.hwmon(0, "platform/bad", "bad_ec", "temp1_input", "40000");
        tree.hwmon(1, "platform/good", "good_ec", "temp1_input", "50000");
        Files.delete(tree.path(bad + "/temp1_input"));
        fifo(tree.path(bad + "/temp1_input"));
        Discovery found = tree.discover();
        assertThat(found.channels()).extracting(Channel::id).containsExactly("board.good-ec.temp1.temperature");
        assertThat(found.missing())
                .contains(new Missing(
                        "hwmon/bad_ec",
                        "it did not answer within 2 s",
                        "its driver hangs: its readings are left out of this run"));
    }

    @Test
    void machineWithoutAnythingSaysWhatIsMissingWhyAndWhatToDo(@TempDir Path nothing) {
        Discovery found = LinuxSensors.discover(nothing);
        assertThat(found.sources()).isEmpty();
        assertThat(found.missing())
                .extracting(Missing::what)
                .containsExactlyInAnyOrder(
                        "CPU temperature",
                        "fan speed",
                        "CPU energy",
                        "CPU throttle counters",
                        "CPU clock",
                        "CPU utilization",
                        "battery",
                        "adapter state");
        assertThat(found.missing()).allSatisfy(m -> {
            assertThat(m.why()).isNotBlank();
            assertThat(m.whatToDo()).isNotBlank();
        });
    }

    @Test
    void thisMachineIsSearchedAndReadForReal() throws Exception {
        assumeThat(Files.exists(Path.of("/proc/stat"))).isTrue();
        Discovery found = LinuxSensors.discover(Path.of("/"));
        assertThat(found.offers(Role.CPU, Metric.CPU_UTILIZATION)).isTrue();
        assertThat(found.offers(Role.CPU, Metric.TEMPERATURE))
                .as("offered, or said to be missing")
                .isNotEqualTo(found.missing().stream().anyMatch(m -> m.what().equals("CPU temperature")));
        try (SensorBank bank = new SensorBank(found.sources(), Duration.ofSeconds(5))) {
            int at = bank.channels().stream().map(Channel::id).toList().indexOf("cpu.utilization");
            assertThat(bank.take(0).values()[at]).isNaN();
            TimeUnit.MILLISECONDS.sleep(200);
            assertThat(bank.take(200_000_000).values()[at]).isBetween(0.0, 1.0);
        }
    }

    @Test
    void factsNameTheMachineItsGpusAndBatteries() {
        tree.pci("pci0000:00/0000:00:01.0/0000:01:00.0", "0x030000", "0x10de", "0x2520");
        tree.file("sys/devices/pci0000:00/0000:00:01.0/0000:01:00.0/power/runtime_status", "suspended");
        tree.link("sys/bus/pci/devices/0000:01:00.0", "sys/devices/pci0000:00/0000:00:01.0/0000:01:00.0");
        tree.pci("pci0000:00/0000:00:1f.3", "0x040300", "0x8086", "0x51c8");
        tree.link("sys/bus/pci/devices/0000:00:1f.3", "sys/devices/pci0000:00/0000:00:1f.3");
        tree.supply(
                "BAT0",
                "type",
                "Battery",
                "manufacturer",
                "Alder Works",
                "serial_number",
                "AWK17-004711",
                "cycle_count",
                "0",
                "energy_full_design",
                "80500000",
                "energy_full",
                "71230000");
        tree.file("sys/class/dmi/id/sys_vendor", "Alder Works").file("sys/class/dmi/id/bios_version", "1.07");
        tree.file(
                "proc/cpuinfo",
                "processor\t: 0\nmodel name\t: Some CPU @ 3.2GHz: fast\nphysical id\t: 0\ncore id\t\t: 0\nmicrocode\t: 0x42\n\n"
                        + "processor\t: 1\nmodel name\t: Some CPU\nphysical id\t: 0\ncore id\t\t: 0");
        tree.file(
                "etc/os-release",
                "PRETTY_NAME=\"Some Linux 12 (x)\"\nNAME=\"Some Linux\"\nVERSION_ID='12'\nNAME=another\n");
        tree.file("proc/meminfo", "MemTotal:       16302040 kB\nMemFree:          100 kB\n");
        tree.file("sys/block/nvme0n1/size", "1000215216").file("sys/block/nvme0n1/device/model", "Disk 512");
        tree.file("sys/block/nvme0n1/device/serial", "D0001112");
        tree.file("sys/block/loop0/size", "8").file("sys/block/sda/size", "0");
        var facts = LinuxFacts.of(folder);
        assertThat(facts).containsOnlyKeys("machine", "firmware", "os", "cpu", "gpu", "memory", "storage", "power");
        assertThat(facts.get("os")).containsEntry("family", "Some Linux").containsEntry("version", "12");
        assertThat(facts.get("memory")).containsOnly(Map.entry("total", "15919 MiB"));
        assertThat(facts.get("storage"))
                .containsOnly(
                        Map.entry("1.name", "nvme0n1"),
                        Map.entry("1.model", "Disk 512"),
                        Map.entry("1.size", "488386 MiB"),
                        Map.entry("1.serial", "D0001112"));
        assertThat(facts.get("machine")).containsOnly(Map.entry("make", "Alder Works"));
        assertThat(facts.get("firmware")).containsEntry("version", "1.07");
        assertThat(facts.get("cpu"))
                .containsEntry("name", "Some CPU @ 3.2GHz: fast")
                .containsEntry("microcode", "0x42")
                .containsEntry("threads", "2")
                .containsEntry("cores", "1");
        assertThat(facts.get("gpu"))
                .containsEntry("1.role", "gpu-discrete")
                .containsEntry("1.pci", "10de:2520")
                .containsEntry("1.power-state", "suspended")
                .doesNotContainKey("2.role");
        assertThat(facts.get("power"))
                .containsEntry("bat0.serial", "AWK17-004711")
                .containsEntry("bat0.full-design-wh", "80.5")
                .containsEntry("bat0.full-wh", "71.23")
                .doesNotContainKey("bat0.cycles");
    }

    @Test
    void channelIdsAndSourceNamesAreUniqueOnAFullMachine() {
        FullLaptop.build(tree);
        Discovery found = tree.discover();
        assertThat(found.sources())
                .extracting(Source::name)
                .doesNotHaveDuplicates()
                .contains("hwmon/nvme", "hwmon/nvme-2");
        List<String> ids = found.channels().stream().map(Channel::id).toList();
        assertThat(ids).doesNotHaveDuplicates().hasSizeGreaterThanOrEqualTo(60);
    }
}
