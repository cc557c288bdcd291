// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

/** The adapter and the battery: the battery takes what the adapter has left, and gives what it lacks. */
final class PowerSupply {
    private static final double BATTERY_JOULES = 90 * 3600.0;
    private static final double CHARGE_TO = 0.95;
    private static final double MOST_CHARGE_WATTS = 55;
    /** Share of charging power that heats the battery (from memory). */
    private static final double CHARGE_LOSS = 0.05;

    private Adapter adapter = Adapter.RECOGNISED;
    private double charge;
    private double batteryWatts;

    /** How the adapter stands, and what follows for power. */
    enum Adapter {
        RECOGNISED(240, DiscreteGpu.RATED_WATTS),
        /** It feeds the machine, but its identification line is broken: the firmware trusts it with little. */
        NOT_RECOGNISED(130, 80),
        /** It says what it should be able to give, and gives two thirds. */
        WEAK(160, DiscreteGpu.RATED_WATTS),
        OFF(0, 55);

        private final double watts;
        private final double gpuLimitWatts;

        Adapter(double watts, double gpuLimitWatts) {
            this.watts = watts;
            this.gpuLimitWatts = gpuLimitWatts;
        }
    }

    PowerSupply(double charge) {
        this.charge = charge;
    }

    void adapter(Adapter now) {
        adapter = now;
    }

    void step(double seconds, double loadWatts) {
        double left = adapter.watts - loadWatts;
        if (left < 0) {
            batteryWatts = left;
        } else if (adapter == Adapter.RECOGNISED && charge < CHARGE_TO) {
            // Constant current first, then less and less: the last tenth takes longer.
            double wanted = Math.min(MOST_CHARGE_WATTS, MOST_CHARGE_WATTS * (CHARGE_TO - charge) / 0.10 + 1);
            batteryWatts = Math.min(left, wanted);
        } else {
            batteryWatts = 0;
        }
        charge = Math.min(1, Math.max(0, charge + batteryWatts * seconds / BATTERY_JOULES));
    }

    boolean online() {
        return adapter != Adapter.OFF;
    }

    double gpuLimitWatts() {
        return adapter.gpuLimitWatts;
    }

    double charge() {
        return charge;
    }

    /** Positive while charging. */
    double batteryWatts() {
        return batteryWatts;
    }

    double batteryHeatWatts() {
        return Math.abs(batteryWatts) * CHARGE_LOSS;
    }
}
