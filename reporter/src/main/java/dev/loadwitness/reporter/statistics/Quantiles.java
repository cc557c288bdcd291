// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import org.apache.commons.math3.distribution.ChiSquaredDistribution;
import org.apache.commons.math3.distribution.NormalDistribution;
import org.apache.commons.math3.distribution.TDistribution;

/**
 * Quantiles of the usual distributions, by Commons Math, whose arithmetic is plain Java and so the same on every machine. Each
 * gives the value below which the variable falls with the stated probability.
 */
public final class Quantiles {
    private static final double SOLVER_ACCURACY = 1e-12;
    /** From here on t is the normal to nine digits, and the library's continued fraction begins to fail. */
    private static final double NORMAL_FROM = 1e8;

    private static final NormalDistribution STANDARD_NORMAL = new NormalDistribution(null, 0, 1);

    private Quantiles() {}

    /** Standard normal; 1.6449 at 0.95. Meant for probabilities from 1e-9 to 1 − 1e-9; further out digits are lost. */
    public static double normal(double probability) {
        return STANDARD_NORMAL.inverseCumulativeProbability(Numbers.requireOpenProbability(probability, "probability"));
    }

    /**
     * Student's t. NaN when {@code degreesOfFreedom} is NaN, 0 or less, as it is when there was too little data.
     *
     * @param degreesOfFreedom need not be whole; infinite for an uncertainty that is known exactly
     */
    public static double studentT(double probability, double degreesOfFreedom) {
        Numbers.requireOpenProbability(probability, "probability");
        if (!(degreesOfFreedom > 0)) {
            return Double.NaN;
        }
        if (degreesOfFreedom > NORMAL_FROM) {
            return normal(probability);
        }
        return new TDistribution(null, degreesOfFreedom, SOLVER_ACCURACY).inverseCumulativeProbability(probability);
    }

    /** Probability that Student's t stays at or below {@code t}; the normal from many degrees of freedom on. */
    static double studentTProbability(double t, double degreesOfFreedom) {
        return degreesOfFreedom > NORMAL_FROM
                ? normalProbability(t)
                : new TDistribution(null, degreesOfFreedom, SOLVER_ACCURACY).cumulativeProbability(t);
    }

    static double chiSquared(double probability, double degreesOfFreedom) {
        return new ChiSquaredDistribution(null, degreesOfFreedom, SOLVER_ACCURACY)
                .inverseCumulativeProbability(probability);
    }

    /** Probability that a standard normal variable stays at or below {@code z}, good to many digits in both tails. */
    static double normalProbability(double z) {
        return STANDARD_NORMAL.cumulativeProbability(z);
    }
}
