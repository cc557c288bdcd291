// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

/** Probabilities as people read them: never rounded up to certainty, nor down to impossibility. */
public final class Risk {
    private Risk() {}

    public static String percent(double probability) {
        if (probability > 0.999) {
            return "above 99.9 %";
        }
        return probability < 0.001 ? "below 0.1 %" : Texts.percent(probability);
    }
}
