// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import java.util.Random;
import org.junit.jupiter.api.Test;

final class LaptopTest {
    private static final double STEP = 0.1;
    private static final Laptop.Load DISCRETE = new Laptop.Load(0, 0, 0, 1);
    private static final Laptop.Load COMBINED = new Laptop.Load(1, 0, 0, 1);

    private static Laptop laptop(double charge) {
        return new Laptop(22, charge, new Random(7));
    }

    private static void run(Laptop laptop, double seconds) {
        for (long i = 0; i < Math.round(seconds / STEP); i++) {
            laptop.step(STEP);
        }
    }

    @Test
    void settledMachineGivesOffWhatItTakesUp() {
        Laptop laptop = laptop(0.95);
        laptop.load(DISCRETE);
        run(laptop, 4 * 3600);
        double in = 0;
        double out = 0;
        for (int i = 0; i < 6000; i++) {
            laptop.step(STEP);
            in += laptop.heatWatts() / 6000;
            out += laptop.heat().wattsToAmbient() / 6000;
        }
        assertThat(in).isBetween(185.0, 205.0);
        assertThat(out).isCloseTo(in, within(0.005 * in));
    }

    @Test
    void dieIsHotterThanTheHeatsinkByResistanceTimesPower() {
        Laptop laptop = laptop(0.95);
        laptop.load(DISCRETE);
        run(laptop, 2 * 3600);
        ThermalNetwork heat = laptop.heat();
        double rise = 0;
        double watts = 0;
        for (int i = 0; i < 3000; i++) {
            laptop.step(STEP);
            rise += (heat.celsius(Laptop.GPU_DIE) - heat.celsius(Laptop.SINK)) / 3000;
            // What the die gives to the case past the heatsink, over 12.5 K/W, does not cross the contact.
            watts += (laptop.gpu().watts() - (heat.celsius(Laptop.GPU_DIE) - heat.celsius(Laptop.CASE)) / 12.5) / 3000;
        }
        assertThat(rise).isCloseTo(Laptop.GOOD_GPU_CONTACT * watts, within(0.05));
    }

    @Test
    void powerStaysAtItsLimitAndTheClockGoesWithIt() {
        Laptop laptop = laptop(0.95);
        laptop.load(DISCRETE);
        run(laptop, 600);
        double at150 = meanWatts(laptop, 60);
        double clock150 = laptop.gpu().clockMegahertz();
        laptop.adapter(PowerSupply.Adapter.NOT_RECOGNISED);
        run(laptop, 60);
        double at80 = meanWatts(laptop, 60);
        assertThat(at150).isBetween(146.0, 151.0);
        assertThat(at80).isBetween(77.0, 81.0);
        assertThat(laptop.gpu().clockMegahertz()).isBetween(0.6 * clock150, 0.85 * clock150);
        assertThat(laptop.gpu().capped()).isTrue();
    }

    private static double meanWatts(Laptop laptop, double seconds) {
        double joules = laptop.gpu().joules();
        run(laptop, seconds);
        return (laptop.gpu().joules() - joules) / seconds;
    }

    @Test
    void hardwareHalvesTheClockAtTheSlowdownTemperatureAndRecovers() {
        DiscreteGpu gpu = new DiscreteGpu(new Random(1));
        for (int i = 0; i < 100; i++) {
            gpu.step(STEP, 1, 150, 80);
        }
        double before = gpu.clockMegahertz();
        gpu.step(STEP, 1, 150, 89.1);
        assertThat(gpu.clockMegahertz()).isBetween(0.45 * before, 0.55 * before);
        assertThat(gpu.hot()).isTrue();
        gpu.step(STEP, 1, 150, 86);
        assertThat(gpu.clockMegahertz()).isLessThan(0.6 * before);
        for (int i = 0; i < 2000; i++) {
            gpu.step(STEP, 1, 150, 80);
        }
        assertThat(gpu.hot()).isFalse();
        assertThat(gpu.clockMegahertz()).isGreaterThan(0.95 * before);
    }

    @Test
    void processorDrawsItsTurboPowerFirstAndItsLongTermPowerThen() {
        Laptop laptop = laptop(0.95);
        laptop.load(COMBINED);
        run(laptop, 3);
        double first = laptop.cpu().watts();
        run(laptop, 300);
        double joules = laptop.cpu().joules();
        run(laptop, 60);
        assertThat(first).isGreaterThan(80);
        assertThat((laptop.cpu().joules() - joules) / 60).isCloseTo(45, within(2.0));
    }

    @Test
    void batteryHelpsWhenTheAdapterIsTooSmallAndDrainsWithoutIt() {
        Laptop laptop = laptop(0.5);
        laptop.load(COMBINED);
        run(laptop, 3);
        assertThat(laptop.supply().batteryWatts()).isNegative();
        laptop.load(Laptop.Load.NONE);
        run(laptop, 60);
        assertThat(laptop.supply().batteryWatts()).isPositive();
        laptop.adapter(PowerSupply.Adapter.OFF);
        double before = laptop.supply().charge();
        run(laptop, 600);
        assertThat(laptop.supply().charge()).isLessThan(before);
    }

    @Test
    void fanGoesUpAtOneTemperatureAndDownOnlyWellBelow() {
        Fan fan = new Fan(1);
        settle(fan, 57);
        assertThat(fan.rpm()).isCloseTo(2900, within(1.0));
        settle(fan, 52);
        assertThat(fan.rpm()).isCloseTo(2900, within(1.0));
        settle(fan, 50.5);
        assertThat(fan.rpm()).isCloseTo(2200, within(1.0));
        settle(fan, 40);
        assertThat(fan.rpm()).isCloseTo(0, within(1.0));
    }

    private static void settle(Fan fan, double celsius) {
        for (int i = 0; i < 600; i++) {
            fan.step(STEP, celsius);
        }
    }
}
