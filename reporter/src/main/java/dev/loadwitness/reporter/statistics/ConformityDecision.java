// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import org.apache.commons.math3.special.Erf;

/**
 * A measured value against a limit, with a guard band on both sides of it. Reference: JCGM 106:2012, clauses 7 and 8;
 * ILAC-G8:09/2019: guard band w = r·U with U = 2u.
 *
 * <p>Conforms when the value is at least w on the good side of the limit; does not conform when it is more than w on the
 * bad side; between them the measurement does not decide. With r = 0 or u = 0 the limit itself divides, and belongs to
 * the good side. The value is taken as normally distributed about the truth with standard deviation u.
 *
 * @param conformanceProbability probability that the true value meets the limit
 * @param guardBand w, in the value's unit
 */
public record ConformityDecision(Outcome outcome, double conformanceProbability, double guardBand) {
    /** What the measurement says. */
    public enum Outcome {
        CONFORMS,
        DOES_NOT_CONFORM,
        INSIDE_GUARD_BAND
    }

    /**
     * Against an upper limit.
     *
     * @param standardUncertainty u, not negative
     * @param guardFactor r, not negative
     * @throws IllegalArgumentException if an argument is not finite or is negative where it must not be
     */
    public static ConformityDecision upperLimit(
            double limit, double value, double standardUncertainty, double guardFactor) {
        return decide(limit - value, standardUncertainty, guardFactor);
    }

    /** Against a lower limit; see {@link #upperLimit}. */
    public static ConformityDecision lowerLimit(
            double limit, double value, double standardUncertainty, double guardFactor) {
        return decide(value - limit, standardUncertainty, guardFactor);
    }

    /** Probability that a value with standard uncertainty u lies between two limits. */
    public static double probabilityBetween(double lower, double upper, double value, double standardUncertainty) {
        return standardNormal((upper - value) / standardUncertainty)
                - standardNormal((lower - value) / standardUncertainty);
    }

    private static ConformityDecision decide(double margin, double u, double r) {
        if (!Double.isFinite(margin) || !(u >= 0) || Double.isInfinite(u) || !(r >= 0) || Double.isInfinite(r)) {
            throw new IllegalArgumentException("cannot decide: margin=" + margin + " u=" + u + " guard factor=" + r);
        }
        double w = r * 2 * u;
        Outcome outcome =
                margin >= w ? Outcome.CONFORMS : margin < -w ? Outcome.DOES_NOT_CONFORM : Outcome.INSIDE_GUARD_BAND;
        double probability = u == 0 ? (margin >= 0 ? 1 : 0) : standardNormal(margin / u);
        return new ConformityDecision(outcome, probability, w);
    }

    /** Φ(z), the standard normal distribution function. */
    static double standardNormal(double z) {
        return 0.5 * Erf.erfc(-z / StrictMath.sqrt(2));
    }
}
