// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import java.util.Arrays;

/**
 * Lumps of matter that store heat and pass it to each other and to the ambient air: C dT/dt = P − Σ G (T − T'), the
 * electrical analogy with resistance in K/W and capacity in J/K (Newton's law of cooling).
 */
final class ThermalNetwork {
    private final double[] joulesPerKelvin;
    private final double[][] wattsPerKelvin;
    private final double[] wattsPerKelvinToAmbient;
    private final double[] celsius;
    private double ambientCelsius;

    /** Lumps at the ambient temperature, not yet connected. */
    ThermalNetwork(double ambientCelsius, double... joulesPerKelvin) {
        this.joulesPerKelvin = joulesPerKelvin.clone();
        this.wattsPerKelvin = new double[joulesPerKelvin.length][joulesPerKelvin.length];
        this.wattsPerKelvinToAmbient = new double[joulesPerKelvin.length];
        this.celsius = new double[joulesPerKelvin.length];
        this.ambientCelsius = ambientCelsius;
        Arrays.fill(celsius, ambientCelsius);
    }

    /** Connects two lumps; a later call replaces the earlier one. */
    void connect(int a, int b, double conductance) {
        wattsPerKelvin[a][b] = conductance;
        wattsPerKelvin[b][a] = conductance;
    }

    void connectToAmbient(int lump, double conductance) {
        wattsPerKelvinToAmbient[lump] = conductance;
    }

    double celsius(int lump) {
        return celsius[lump];
    }

    double ambientCelsius() {
        return ambientCelsius;
    }

    /** Sets all lumps, for a machine that has stood idle. */
    void settleAt(double... lumps) {
        System.arraycopy(lumps, 0, celsius, 0, celsius.length);
    }

    /** One step by the classical Runge-Kutta rule; {@code seconds} must stay well below the shortest time constant. */
    void step(double seconds, double... watts) {
        double[] k1 = slope(celsius, watts);
        double[] k2 = slope(ahead(k1, seconds / 2), watts);
        double[] k3 = slope(ahead(k2, seconds / 2), watts);
        double[] k4 = slope(ahead(k3, seconds), watts);
        for (int i = 0; i < celsius.length; i++) {
            celsius[i] += seconds / 6 * (k1[i] + 2 * k2[i] + 2 * k3[i] + k4[i]);
        }
    }

    /** Heat that leaves the machine at this moment, in watts. */
    double wattsToAmbient() {
        double sum = 0;
        for (int i = 0; i < celsius.length; i++) {
            sum += wattsPerKelvinToAmbient[i] * (celsius[i] - ambientCelsius);
        }
        return sum;
    }

    /** Heat stored above the ambient temperature, in joules. */
    double storedJoules() {
        double sum = 0;
        for (int i = 0; i < celsius.length; i++) {
            sum += joulesPerKelvin[i] * (celsius[i] - ambientCelsius);
        }
        return sum;
    }

    private double[] ahead(double[] slope, double seconds) {
        double[] there = celsius.clone();
        for (int i = 0; i < there.length; i++) {
            there[i] += slope[i] * seconds;
        }
        return there;
    }

    private double[] slope(double[] at, double[] watts) {
        double[] slope = new double[at.length];
        for (int i = 0; i < at.length; i++) {
            double net = watts[i] - wattsPerKelvinToAmbient[i] * (at[i] - ambientCelsius);
            for (int j = 0; j < at.length; j++) {
                net -= wattsPerKelvin[i][j] * (at[i] - at[j]);
            }
            slope[i] = net / joulesPerKelvin[i];
        }
        return slope;
    }
}
