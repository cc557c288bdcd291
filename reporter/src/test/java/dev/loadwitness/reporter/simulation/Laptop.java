// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import java.util.Random;

/**
 * The invented "Alder Works AW-17 Kestrel": two chips on one heatsink with two fans, in a case that warms slowly, fed by
 * an adapter and a battery. Its faults are set from outside, while it runs.
 */
final class Laptop {
    static final int GPU_DIE = 0;
    static final int CPU_DIE = 1;
    static final int SINK = 2;
    static final int CASE = 3;
    static final int BATTERY = 4;

    static final double GOOD_GPU_CONTACT = 0.13;
    static final double BOARD_WATTS = 22;

    private static final double CPU_CONTACT = 0.38;
    private static final double STILL_SINK_CONDUCTANCE = 0.7;
    private static final double FAN_SINK_CONDUCTANCE = 5.2;
    private static final double AIRFLOW_EXPONENT = 0.8; // turbulent forced convection, from memory
    private static final double CASE_CONDUCTANCE = 2.4;
    private static final double CONVERTER_LOSS = 0.08;

    private final ThermalNetwork heat;
    private final DiscreteGpu gpu;
    private final Processor cpu;
    private final PowerSupply supply;
    private final Fan gpuFan = new Fan(1.02);
    private final Fan cpuFan = new Fan(0.97);

    private double gpuContact = GOOD_GPU_CONTACT;
    private double recirculated = 0.12;
    private double caseConductance = CASE_CONDUCTANCE;
    private double loadShare = 1;

    private Load load = Load.NONE;
    private double conversionWatts;

    /** What the loads ask of each part, as shares of all it has. */
    record Load(double cpu, double memory, double integratedGpu, double discreteGpu) {
        static final Load NONE = new Load(0, 0, 0, 0);
    }

    Laptop(double ambientCelsius, double charge, Random random) {
        heat = new ThermalNetwork(ambientCelsius, 22, 16, 260, 950, 380);
        gpu = new DiscreteGpu(new Random(random.nextLong()));
        cpu = new Processor(new Random(random.nextLong()));
        supply = new PowerSupply(charge);
        heat.connect(GPU_DIE, CASE, 0.08);
        heat.connect(CPU_DIE, CASE, 0.08);
        heat.connect(SINK, CASE, 0.25);
        heat.connect(CASE, BATTERY, 0.35);
        heat.connectToAmbient(BATTERY, 0.3);
        connect();
        // As it stands on the bench some time after it was switched on.
        heat.settleAt(
                ambientCelsius + 18, ambientCelsius + 22, ambientCelsius + 16, ambientCelsius + 9, ambientCelsius + 5);
    }

    /** Resistance between the GPU's die and the heatsink, in K/W. */
    void gpuContact(double kelvinPerWatt) {
        gpuContact = kelvinPerWatt;
    }

    /**
     * Vents that do not breathe.
     *
     * @param share of the fans' air that comes from inside the case instead of from the room
     * @param wattsPerKelvin from the case to the room
     */
    void vents(double share, double wattsPerKelvin) {
        recirculated = share;
        caseConductance = wattsPerKelvin;
    }

    void adapter(PowerSupply.Adapter state) {
        supply.adapter(state);
    }

    /** A load that does only a share of what it is asked for. */
    void loadShare(double share) {
        loadShare = share;
    }

    void load(Load asked) {
        load = asked;
    }

    void step(double seconds) {
        double discrete = load.discreteGpu() * loadShare;
        gpu.step(seconds, discrete, supply.gpuLimitWatts(), heat.celsius(GPU_DIE));
        double chores = 0.015 + 0.09 * discrete + 0.03 * load.integratedGpu();
        cpu.step(seconds, load.cpu(), load.memory(), load.integratedGpu(), chores, heat.celsius(CPU_DIE));
        double chips = gpu.watts() + cpu.watts();
        conversionWatts = CONVERTER_LOSS * chips;
        supply.step(seconds, chips + conversionWatts + BOARD_WATTS);

        double hottest = Math.max(heat.celsius(GPU_DIE), heat.celsius(CPU_DIE) - 10);
        gpuFan.step(seconds, hottest);
        cpuFan.step(seconds, hottest);
        connect();
        heat.step(seconds, gpu.watts(), cpu.watts(), 0, BOARD_WATTS + conversionWatts, supply.batteryHeatWatts());
    }

    private void connect() {
        double air = (gpuFan.rpm() + cpuFan.rpm()) / (2 * Fan.MOST_RPM);
        double sink = STILL_SINK_CONDUCTANCE + FAN_SINK_CONDUCTANCE * StrictMath.pow(air, AIRFLOW_EXPONENT);
        heat.connect(GPU_DIE, SINK, 1 / gpuContact);
        heat.connect(CPU_DIE, SINK, 1 / CPU_CONTACT);
        heat.connectToAmbient(SINK, sink * (1 - recirculated));
        heat.connect(SINK, CASE, 0.25 + sink * recirculated);
        heat.connectToAmbient(CASE, caseConductance * (0.6 + 0.4 * air));
    }

    ThermalNetwork heat() {
        return heat;
    }

    DiscreteGpu gpu() {
        return gpu;
    }

    Processor cpu() {
        return cpu;
    }

    PowerSupply supply() {
        return supply;
    }

    Fan gpuFan() {
        return gpuFan;
    }

    Fan cpuFan() {
        return cpuFan;
    }

    /** All that becomes heat at this moment, in watts. */
    double heatWatts() {
        return gpu.watts() + cpu.watts() + BOARD_WATTS + conversionWatts + supply.batteryHeatWatts();
    }
}
