// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.heat;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.ScanOptions;
import dev.loadwitness.reporter.scan.Scanning;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Room;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.file.line.Place;
import java.nio.file.Path;
import java.util.Optional;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class ThermalScanTest {
    private static final Channel TEMPERATURE = Channel.of("gpu.t", Metric.TEMPERATURE, Role.GPU_DISCRETE, "gpu");
    private static final Channel ENERGY = Channel.of("gpu.e", Metric.ENERGY, Role.GPU_DISCRETE, "gpu");

    private static ThermalScan from(double seconds) {
        return new ThermalScan(new At(new Place(1, 0, 0), 0, seconds), 1, new Room());
    }

    @Test
    void threeDaysFitIntoTheBinsAndKeepTheirMeans() {
        ThermalScan scan = from(100);
        ThermalScan.Line line = scan.line(TEMPERATURE);
        int days = 3 * 86_400;
        for (int i = 0; i < days; i++) {
            line.read(scan.bin(100 + i), i);
        }
        ThermalTally tally = scan.finish();
        assertThat(tally.binSeconds()).isEqualTo(8);
        assertThat(tally.bins()).isEqualTo(days / 8);
        double[] means = tally.temperature(Role.GPU_DISCRETE).orElseThrow().means();
        assertThat(means[0]).isEqualTo(3.5);
        assertThat(means[1000]).isEqualTo(8_003.5);
    }

    @Test
    void aCounterOfEnergyGivesMeanPowerWhateverWasNotRead() {
        ThermalScan scan = from(0);
        ThermalScan.Line line = scan.line(ENERGY);
        line.counted(scan.bin(0), 0, 1000, 500); // before the stage: nobody knows since when
        for (int i = 1; i <= 9; i++) {
            boolean read = i % 3 == 0;
            line.counted(scan.bin(i), i, read ? 1000 + 20 * i : Double.NaN, read ? 60 : 0);
        }
        double[] watts = scan.finish().power(Role.GPU_DISCRETE).orElseThrow().means();
        assertThat(watts[1]).isCloseTo(20, within(1e-12)); // read at 3 s, in the second bin of two seconds
        assertThat(watts[2]).isNaN();
    }

    @Test
    void aStageHasTheChipsThePowersAndTheFans(@TempDir Path folder) throws Exception {
        Path log = LogBuilder.laptop()
                .channel(Channel.of("fan.one", Metric.FAN_SPEED, Role.FAN, "hwmon"), m -> 3000)
                .channel(Channel.of("gpu.hotspot", Metric.TEMPERATURE, Role.GPU_DISCRETE, "gpu"), m -> 90)
                .idle("idle", 20)
                .soak("soak", 40)
                .write(folder);
        Scan scan = Scanning.of(log, new ScanOptions(Optional.empty(), false));
        ThermalTally soak = scan.stages().get(1).thermal();
        assertThat(soak.lines().stream().map(l -> l.channel().id()))
                .containsExactly("cpu.temperature", "gpu.temperature", "gpu.energy", "fan.one");
        assertThat(soak.temperature(Role.GPU_DISCRETE).orElseThrow().means()[5]).isEqualTo(72.5);
        assertThat(soak.power(Role.GPU_DISCRETE).orElseThrow().means()[5]).isCloseTo(140, within(1e-9));
        assertThat(soak.fans().findFirst().orElseThrow().means()[5]).isEqualTo(3000);
        assertThat(scan.stages()
                        .get(0)
                        .thermal()
                        .power(Role.GPU_DISCRETE)
                        .orElseThrow()
                        .means()[5])
                .isCloseTo(15, within(1e-9));
    }
}
