// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

/**
 * A sensor's steps. A sticky one leaves its reading only when the value has gone clearly past the middle between two
 * steps, as many integer temperatures do.
 */
final class Quantiser {
    private final double stepsPerUnit;
    private final double stickySteps;
    private double last = Double.NaN;

    /**
     * Steps of {@code 1 / stepsPerUnit}.
     *
     * @param stickySteps how far beyond the middle, in steps, the value must go
     */
    Quantiser(double stepsPerUnit, double stickySteps) {
        this.stepsPerUnit = stepsPerUnit;
        this.stickySteps = stickySteps;
    }

    double read(double value) {
        double steps = value * stepsPerUnit;
        if (Double.isNaN(last) || Math.abs(steps - last) > 0.5 + stickySteps) {
            last = Math.rint(steps);
        }
        return last / stepsPerUnit;
    }
}
