// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

/** A fan with steps: up at one temperature, down again only well below it, so that it does not hunt. */
final class Fan {
    private static final double[] UP_CELSIUS = {48, 56, 63, 70, 78};
    private static final double[] RPM = {0, 2200, 2900, 3600, 4300, 5000};
    private static final double HYSTERESIS_KELVIN = 5;
    private static final double SPIN_SECONDS = 2.5;

    static final double MOST_RPM = RPM[RPM.length - 1];

    private final double trim;
    private int step;
    private double rpm;
    private boolean stalled;

    /** A fan whose speeds differ from the nominal ones by the factor {@code trim}, as two fans of one model do. */
    Fan(double trim) {
        this.trim = trim;
    }

    void step(double seconds, double celsius) {
        while (step < UP_CELSIUS.length && celsius > UP_CELSIUS[step]) {
            step++;
        }
        while (step > 0 && celsius < UP_CELSIUS[step - 1] - HYSTERESIS_KELVIN) {
            step--;
        }
        rpm += ((stalled ? 0 : RPM[step] * trim) - rpm) * (1 - StrictMath.exp(-seconds / SPIN_SECONDS));
    }

    /** A bearing that seizes, and stays so. */
    void stall() {
        stalled = true;
    }

    double rpm() {
        return rpm;
    }
}
