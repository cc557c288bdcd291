// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.offset;

import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.Missing;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Tree;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.List;
import java.util.Map;
import java.util.concurrent.atomic.AtomicLong;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/**
 * Units after the kernel's {@code power/powercap/powercap.rst}, {@code ABI/testing/sysfs-class-power},
 * {@code admin-guide/pm/cpufreq.rst}, {@code filesystems/proc.rst} and {@code driver-api/thermal/sysfs-api.rst}.
 */
class CpuAndPowerTest {
    @TempDir
    Path folder;

    private Tree tree;
    private final AtomicLong nanos = new AtomicLong();

    @BeforeEach
    void emptyTree() {
        tree = new Tree(folder);
    }

    private static double one(Source source) throws IOException {
        double[] into = new double[source.channels().size()];
        source.read(into, 0);
        return into[0];
    }

    private Source energy(String range, String first) {
        String zone = "sys/class/powercap/intel-rapl:0";
        tree.file(zone + "/name", "package-0")
                .file(zone + "/max_energy_range_uj", range)
                .file(zone + "/energy_uj", first);
        return Tree.source(LinuxSensors.discover(folder, nanos::get), "powercap/rapl");
    }

    private void later(Duration passed, String microjoules) {
        nanos.addAndGet(passed.toNanos());
        tree.file("sys/class/powercap/intel-rapl:0/energy_uj", microjoules);
    }

    @Test
    void energyThatWrapsGoesOnGrowing() throws IOException {
        // Range seen in public logs, floor((2^32 - 1) x 61.035 uJ); the difference is 0.5 J, by hand
        Source source = energy("262143328850", "262143000000");
        double before = one(source);
        later(Duration.ofMillis(5), "171150");
        assertThat(one(source) - before).isCloseTo(0.5, offset(1e-6));
        later(Duration.ofSeconds(1), "45171150");
        assertThat(one(source) - before).isCloseTo(45.5, offset(1e-6));
    }

    @Test
    void energyCounterSetBackIsNotTakenForAWrap() throws IOException {
        Source source = energy("262143328850", "5000000");
        double before = one(source);
        later(Duration.ofSeconds(1), "2000000"); // as a wrap this would be 262 kJ in a second
        assertThat(one(source) - before).isCloseTo(2.0, offset(1e-6));
    }

    @Test
    void energyZonesAreNamedForTheirPartAndShownOnce() throws IOException {
        String base = "sys/class/powercap/intel-rapl";
        for (String zone :
                List.of(":0=package-0", ":0:0=core", ":0:1=uncore", ":0:2=dram", ":1=psys", "-mmio:0=package-0")) {
            String[] parts = zone.split("=", -1);
            tree.file(base + parts[0] + "/name", parts[1])
                    .file(base + parts[0] + "/max_energy_range_uj", "262143328850")
                    .file(base + parts[0] + "/energy_uj", "1000000");
        }
        Discovery found = tree.discover();
        assertThat(Tree.source(found, "powercap/rapl").channels())
                .extracting(Channel::id)
                .containsExactly(
                        "cpu.package.energy",
                        "board.platform.energy",
                        "cpu.core.energy",
                        "cpu.uncore.energy",
                        "memory.dram.energy");
        assertThat(Tree.channel(found, "memory.dram.energy").role()).isEqualTo(Role.MEMORY);
    }

    @Test
    void energyThatOnlyRootMayReadIsMissingAndSaysWhatToDo() {
        tree.file("sys/class/powercap/intel-rapl:0/name", "package-0");
        tree.mkdir(
                "sys/class/powercap/intel-rapl:0/energy_uj"); // the tests may run as root, who is refused folders only
        Discovery found = tree.discover();
        assertThat(found.offers(Role.CPU, Metric.ENERGY)).isFalse();
        assertThat(found.missing()).anySatisfy(m -> {
            assertThat(m.what()).isEqualTo("CPU energy");
            assertThat(m.whatToDo()).contains("as root");
        });
    }

    @Test
    void packageThrottleCountIsTakenOnceAndCoresAreAddedUpOncePerCore() throws IOException {
        // Two cores with two threads each. The package's count shows on every thread; threads of a core share the
        // core's.
        tree.cpu(0, 0, 0, "7", "3", "900", "120");
        tree.cpu(1, 0, 1, "7", "2", "900", "80");
        tree.cpu(2, 0, 0, "7", "3", "900", "120");
        tree.cpu(3, 0, 1, "7", "2", "900", "80");
        Discovery found = tree.discover();
        assertThat(Tree.read(found))
                .containsEntry("cpu.package.throttle.count", 7.0)
                .containsEntry("cpu.package.throttle.time", 0.9)
                .containsEntry("cpu.cores.throttle.count", 5.0)
                .containsEntry("cpu.cores.throttle.time", 0.2);
        assertThat(Tree.channel(found, "cpu.package.throttle.count").cause()).contains(Cause.HEAT);
        assertThat(Tree.source(found, "cpu/thermal_throttle").channels()).hasSize(4);
    }

    @Test
    void clocksAreMeanAndLowestInHertzWithTheHighestAsLimit() throws IOException {
        String base = "sys/devices/system/cpu/cpufreq/policy";
        tree.file(base + "0/scaling_cur_freq", "4000000").file(base + "0/affected_cpus", "0 1 2");
        tree.file(base + "0/cpuinfo_max_freq", "4700000");
        tree.file(base + "3/scaling_cur_freq", "800000").file(base + "3/affected_cpus", "3");
        tree.file(base + "3/cpuinfo_max_freq", "3600000");
        Discovery found = tree.discover();
        assertThat(Tree.read(found)).containsEntry("cpu.clock.mean", 3.2e9).containsEntry("cpu.clock.lowest", 8e8);
        assertThat(Tree.channel(found, "cpu.clock.mean").limits()).containsOnly(Map.entry(LimitType.MAX, 4.7e9));
        Files.delete(tree.path(base + "3/scaling_cur_freq"));
        assertThat(Tree.read(tree.discover())).containsEntry("cpu.clock.mean", 4e9);
    }

    @Test
    void processorsSwitchedOffDoNotHideTheOthersClock() throws IOException {
        String base = "sys/devices/system/cpu/cpufreq/policy";
        tree.file(base + "0/scaling_cur_freq", "4000000").file(base + "1/scaling_cur_freq", "2000000");
        Source source = Tree.source(tree.discover(), "cpufreq");
        assertThat(one(source)).isEqualTo(3e9);
        tree.file(base + "1/scaling_cur_freq", "");
        assertThat(one(source)).isEqualTo(4e9);
        tree.file(base + "0/scaling_cur_freq", "<unknown>");
        assertThatThrownBy(() -> one(source)).isInstanceOf(IOException.class);
    }

    @Test
    void utilizationIsTheWorkedShareSinceTheLastRead() throws IOException {
        tree.file("proc/stat", "cpu  100 0 50 800 50 0 0 0 0 0\ncpu0 1 2 3 4");
        Source source = Tree.source(tree.discover(), "proc/stat");
        assertThat(one(source)).as("nothing to compare with").isNaN();
        // worked: user 60, nice 5, system 5, interrupts 3 + 2; idle 20, waiting 5; guest 40 is in user already
        tree.file("proc/stat", "cpu  160 5 55 820 55 3 2 0 40 0\ncpu0 1 2 3 4");
        assertThat(one(source)).isCloseTo(0.75, offset(1e-12));
        assertThat(one(source)).as("no tick has passed").isNaN();
        tree.file("proc/stat", "intr 1 2 3");
        assertThatThrownBy(() -> one(source)).hasMessageContaining("does not begin with");
    }

    @Test
    void thermalZoneServesOnlyWhereNoChipGivesTheCpuTemperature(@TempDir Path other) throws IOException {
        for (Tree both : List.of(tree, new Tree(other))) {
            both.file("sys/class/thermal/thermal_zone0/type", "acpitz")
                    .file("sys/class/thermal/thermal_zone0/temp", "20000");
            both.file("sys/class/thermal/thermal_zone9/type", "x86_pkg_temp")
                    .file("sys/class/thermal/thermal_zone9/temp", "66000");
        }
        assertThat(Tree.read(tree.discover())).containsEntry("cpu.package.temperature", 66.0);
        tree.hwmon(0, "platform/coretemp.0", "coretemp", "temp1_input", "65000", "temp1_label", "Package id 0");
        Discovery found = tree.discover();
        assertThat(Tree.read(found)).containsEntry("cpu.package.temperature", 65.0);
        assertThat(found.sources()).extracting(Source::name).doesNotContain("thermal/x86_pkg_temp");
    }

    @ParameterizedTest(name = "{0} {1}: {2}")
    @CsvSource({
        "Charging,     30000000,  30",
        "Charging,    -30000000,  30",
        "Discharging,  45000000, -45",
        "Discharging, -45000000, -45",
        "Discharging,         0,   0",
        "Full,                0,   0",
        "Not charging,  5000000, NaN",
        "Not charging, -5000000,  -5",
        "Unknown,       5000000, NaN",
    })
    void batteryPowerTakesItsSignFromTheStatusWhateverTheDriversSign(String status, String microwatts, double watts)
            throws IOException {
        tree.supply("BAT0", "type", "Battery", "status", status, "power_now", microwatts);
        assertThat(Tree.read(tree.discover()).get("battery.bat0.power")).isEqualTo(Double.valueOf(watts));
    }

    @Test
    void batteryUnitsAreThoseOfTheKernelsDocument() throws IOException {
        tree.supply(
                "BAT1",
                "type",
                "Battery",
                "present",
                "1",
                "status",
                "Discharging",
                "voltage_now",
                "15400000",
                "current_now",
                "2000000",
                "charge_now",
                "2500000",
                "charge_full",
                "5000000",
                "capacity",
                "49",
                "temp",
                "312");
        Map<String, Double> values = Tree.read(tree.discover());
        assertThat(values.get("battery.bat1.power")).isCloseTo(-30.8, offset(1e-9));
        assertThat(values)
                .containsEntry("battery.bat1.charge", 0.5)
                .containsEntry("battery.bat1.voltage", 15.4)
                .containsEntry("battery.bat1.temperature", 31.2);
    }

    @Test
    void theFirmwaresChargeThresholdsAndItsStateAreChannels() throws IOException {
        tree.supply(
                "BAT0",
                "type",
                "Battery",
                "status",
                "Not charging",
                "energy_now",
                "40000000",
                "energy_full",
                "50000000",
                "charge_control_start_threshold",
                "75",
                "charge_control_end_threshold",
                "80");
        Discovery found = tree.discover();
        assertThat(Tree.read(found))
                .containsEntry("battery.bat0.charge", 0.8)
                .containsEntry("battery.bat0.charge-start", 0.75)
                .containsEntry("battery.bat0.charge-end", 0.8)
                .containsEntry("battery.bat0.state", 0.0);
        assertThat(Tree.channel(found, "battery.bat0.charge").resolution()).isCloseTo(1 / 50_000.0, offset(1e-12));
        assertThat(Tree.channel(found, "battery.bat0.charge-end").is(Role.BATTERY, Metric.BATTERY_CHARGE_END))
                .isTrue();
    }

    @ParameterizedTest(name = "{0}: {1}")
    @CsvSource({"Charging, 1", "Discharging, -1", "Full, 2", "Not charging, 0", "Unknown, NaN"})
    void eachStateOfTheBatteryHasANumber(String status, String number) throws IOException {
        tree.supply("BAT0", "type", "Battery", "status", status, "capacity", "50");
        assertThat(Tree.read(tree.discover()).get("battery.bat0.state")).isEqualTo(Double.valueOf(number));
    }

    @Test
    void wholePercentsServeWhereNothingFinerIsOffered() throws IOException {
        tree.supply("BAT0", "type", "Battery", "capacity", "83");
        Discovery found = tree.discover();
        assertThat(Tree.read(found)).containsEntry("battery.bat0.charge", 0.83);
        assertThat(Tree.channel(found, "battery.bat0.charge").resolution()).isEqualTo(0.01);
        assertThat(found.missing()).extracting(Missing::what).contains("temperature of battery BAT0");
    }

    @Test
    void anyInletThatFeedsTheMachineCountsAsAdapter() throws IOException {
        tree.supply("AC", "type", "Mains", "online", "0");
        tree.supply("ucsi-source-psy-USBC000:001", "type", "USB", "online", "0");
        Source adapter = Tree.source(tree.discover(), "power_supply/adapter");
        assertThat(one(adapter)).isZero();
        tree.supplyChanges("ucsi-source-psy-USBC000:001", "online", "2");
        assertThat(one(adapter)).isEqualTo(1);
        tree.supplyChanges("ucsi-source-psy-USBC000:001", "online", "");
        assertThatThrownBy(() -> one(adapter))
                .as("an inlet that says nothing may be the one")
                .isInstanceOf(IOException.class);
        tree.supplyChanges("AC", "online", "1");
        assertThat(one(adapter)).isEqualTo(1);
    }

    @Test
    void batteriesOfMiceAndEmptyBaysAreNotTheMachines() {
        tree.supply("hidpp_battery_0", "type", "Battery", "scope", "Device", "capacity", "50");
        tree.supply("BAT1", "type", "Battery", "present", "0", "capacity", "0");
        Discovery found = tree.discover();
        assertThat(found.offers(Role.BATTERY, Metric.BATTERY_CHARGE)).isFalse();
        assertThat(found.missing()).extracting(Missing::what).contains("battery", "adapter state");
    }
}
