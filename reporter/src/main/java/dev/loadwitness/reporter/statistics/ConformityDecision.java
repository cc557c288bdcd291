// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.math.BigDecimal;
import java.util.Optional;

/**
 * Whether a measured value respects a limit, allowing for its uncertainty: JCGM 106:2012 (guard bands, conformance probability,
 * specific risk) with the non-binary rule of ILAC-G8:09/2019, its two conditional bands taken as one.
 *
 * <p>Guard band {@code w = r·U}, {@code U = 2u}. Against an upper limit {@code T}: conforms when {@code y ≤ T − w}, does not when
 * {@code y > T + w}, else inside the guard band. Against a lower limit mirrored. Borders are compared in decimals, so that
 * 0.2 against 0.3 − 0.1 comes out as it does on paper. Assumes a normal distribution of the error of {@code y}, or Student's t
 * where its uncertainty is known from few values; {@code U} and {@code w} are then as much larger as keeps the risk.
 *
 * @param side which side of the limit is allowed
 * @param value the measured value y
 * @param limit the tolerance limit T
 * @param standardUncertainty u of the value; 0 for one that is exact
 * @param guardFactor r: 1 is the rule w = U of ILAC-G8, 0 is simple acceptance
 * @param guardBand w
 * @param outcome the decision
 * @param conformanceProbability probability that the true value respects the limit; 0 or 1 when u is 0
 * @param specificRisk probability that the decision is wrong: of accepting when it conforms, of rejecting when it does not; NaN
 *     inside the guard band, where nothing was decided
 */
public record ConformityDecision(
        Side side,
        double value,
        double limit,
        double standardUncertainty,
        double guardFactor,
        double guardBand,
        Outcome outcome,
        double conformanceProbability,
        double specificRisk) {
    /** Which values a limit allows. */
    public enum Side {
        /** Values up to the limit. */
        AT_MOST,
        /** Values from the limit upwards. */
        AT_LEAST
    }

    /** What the measurement shows. */
    public enum Outcome {
        CONFORMS,
        DOES_NOT_CONFORM,
        /** Too close to the limit for this uncertainty. */
        INSIDE_GUARD_BAND
    }

    /**
     * Decides on one value, all in the unit of the limit. Where the budget has few degrees of freedom its error follows Student's
     * t, and the guard band is as much wider as keeps the risk that the guard factor stands for.
     *
     * @throws IllegalArgumentException when a number is not finite, or the guard factor is negative: guarded rejection is not
     *     offered, since it would let a value pass that is more likely bad than good
     */
    public static ConformityDecision decide(
            Side side, double value, double limit, UncertaintyBudget budget, double guardFactor) {
        Numbers.requireFinite(value, "measured value");
        Numbers.requireFinite(limit, "limit");
        Numbers.requireNotNegative(guardFactor, "guard factor");
        double u = budget.standard();
        BigDecimal guardBand = BigDecimal.valueOf(budget.factor(BigDecimal.valueOf(guardFactor)
                        .multiply(BigDecimal.valueOf(2))
                        .doubleValue()))
                .multiply(BigDecimal.valueOf(u));
        BigDecimal upward = BigDecimal.valueOf(limit).subtract(BigDecimal.valueOf(value));
        BigDecimal room = side == Side.AT_MOST ? upward : upward.negate();
        Outcome outcome;
        if (room.compareTo(guardBand) >= 0) {
            outcome = Outcome.CONFORMS;
        } else if (room.compareTo(guardBand.negate()) < 0) {
            outcome = Outcome.DOES_NOT_CONFORM;
        } else {
            outcome = Outcome.INSIDE_GUARD_BAND;
        }
        double good = budget.probabilityBelow(room.doubleValue());
        // The other tail by itself: 1 − p would lose a risk of one in a thousand million to rounding.
        double bad = u == 0 ? 1 - good : budget.probabilityBelow(-room.doubleValue());
        double risk =
                switch (outcome) {
                    case CONFORMS -> bad;
                    case DOES_NOT_CONFORM -> good;
                    case INSIDE_GUARD_BAND -> Double.NaN;
                };
        return new ConformityDecision(side, value, limit, u, guardFactor, guardBand.doubleValue(), outcome, good, risk);
    }

    /**
     * The risk at the border of acceptance, which is the largest that a pass can have, and of rejection likewise: 2.3 % for a
     * guard factor of 1, 50 % for simple acceptance.
     */
    public double largestRisk() {
        return Quantiles.normalProbability(-2 * guardFactor);
    }

    /**
     * What would settle a value inside the guard band, or empty where it was decided.
     *
     * @param budget the one that it was decided with
     */
    public Optional<UncertaintyBudget.Settlement> settlement(UncertaintyBudget budget) {
        return outcome == Outcome.INSIDE_GUARD_BAND
                ? Optional.of(budget.settlement(Math.abs(limit - value), 2 * guardFactor))
                : Optional.empty();
    }
}
