// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import java.util.Random;

/**
 * One machine of the model, in one room: what differs between machines without any of them being faulty.
 *
 * @param seed of everything random in the run
 * @param ambientCelsius of the room
 * @param charge of the battery at the start, 0 to 1
 * @param gpuContact between die and heatsink, in K/W
 * @param recirculated share of the fans' air that comes from inside the case
 * @param caseConductance from the case to the room, in W/K
 * @param powerFactor what the power reading is, over what flows; the energy counter is right
 * @param fullyEquipped whether devices, the GPU's error counters and all of the processor's sensors are read too
 */
record Specimen(
        long seed,
        double ambientCelsius,
        double charge,
        double gpuContact,
        double recirculated,
        double caseConductance,
        double powerFactor,
        boolean fullyEquipped) {

    /** The machine of the sample runs. */
    static Specimen of(Scenario scenario) {
        return new Specimen(scenario.seed(), 22.5, 0.88, Laptop.GOOD_GPU_CONTACT, 0.12, 2.4, 1, false);
    }

    /**
     * A good one, drawn at random: room 18 to 26 °C, contact within 10 % and case within 8 % of the model's own, air from
     * inside 10 to 14 %, power reading within 1 % (two thirds of machines within 0.4 %). Our choice; nobody has measured
     * how machines of one model differ.
     */
    static Specimen good(long seed, double leastCharge, double mostCharge) {
        Random random = new Random(seed * 1_000_003);
        return new Specimen(
                seed,
                between(18, 26, random),
                between(leastCharge, mostCharge, random),
                Laptop.GOOD_GPU_CONTACT * between(0.9, 1.1, random),
                between(0.10, 0.14, random),
                2.4 * between(0.92, 1.08, random),
                1 + Math.max(-0.01, Math.min(0.01, 0.004 * random.nextGaussian())),
                true);
    }

    private static double between(double least, double most, Random random) {
        return least + (most - least) * random.nextDouble();
    }

    void build(Laptop laptop, LaptopSensors sensors) {
        laptop.gpuContact(gpuContact);
        laptop.vents(recirculated, caseConductance);
        sensors.misreadPower(powerFactor);
    }
}
