// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.FindingText;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Risk;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Unit;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.reporter.statistics.UncertaintyBudget.Component;
import dev.loadwitness.reporter.statistics.UncertaintyBudget.Settlement;
import java.util.ArrayList;
import java.util.List;

/**
 * A value with what it may be off by, decided against a limit by the procedure's rule: one way for all criteria to say so.
 */
public record Measured(ConformityDecision decision, UncertaintyBudget budget, Unit unit) {
    /** Nobody soaks a customer's machine for longer (common practice, no source). */
    private static final double MOST_SECONDS = 86_400;

    /** Value and limit as {@link Amount} holds them. */
    public static Measured of(
            ConformityDecision.Side side, double value, double limit, UncertaintyBudget budget, Case run, Unit unit) {
        double guardFactor = run.judgedBy().decision().guardFactor();
        return new Measured(ConformityDecision.decide(side, value, limit, budget, guardFactor), budget, unit);
    }

    public Outcome outcome() {
        return Outcomes.of(decision);
    }

    /** Expanded uncertainty with its unit. */
    public String expanded() {
        return amount(budget.expanded());
    }

    /** Adds the uncertainty, the probability that the limit is met, and the budget as a table. */
    public Finding on(Finding finding) {
        return finding.uncertain(told(budget.expanded()), decision.conformanceProbability())
                .toldAlso(table(
                        finding.criterion().word() + (finding.subject().isEmpty() ? "" : ", " + finding.subject())));
    }

    private Table table(String about) {
        List<List<String>> rows = new ArrayList<>();
        for (Component c : budget.components()) {
            rows.add(row(c.name(), c.kind().word(), c.standardUncertainty(), c.degreesOfFreedom()));
        }
        rows.add(row("combined", "root of the sum of squares", budget.standard(), budget.degreesOfFreedom()));
        rows.add(List.of("expanded", "k = " + Texts.number(budget.coverageFactor(), 2), amount(budget.expanded()), ""));
        rows.add(List.of(
                "guard band",
                decision.guardFactor() == 0 ? "simple acceptance" : rule(),
                amount(decision.guardBand()),
                ""));
        rows.add(List.of("limit met", "probability", Risk.percent(decision.conformanceProbability()), ""));
        rows.add(List.of("decision wrong", wrong(), risk(), ""));
        return new Table("Uncertainty of " + about, List.of("Part", "Origin", "Amount", "Degrees of freedom"), rows);
    }

    private String rule() {
        return "guarded, factor " + Texts.plain(decision.guardFactor()) + ": risk at its border "
                + Risk.percent(decision.largestRisk());
    }

    private String wrong() {
        return switch (decision.outcome()) {
            case CONFORMS -> "accepted, though the limit is not met";
            case DOES_NOT_CONFORM -> "rejected, though the limit is met";
            case INSIDE_GUARD_BAND -> "nothing was decided";
        };
    }

    private String risk() {
        return Double.isNaN(decision.specificRisk()) ? "-" : Risk.percent(decision.specificRisk());
    }

    private List<String> row(String name, String origin, double u, double freedom) {
        return List.of(
                name, origin, amount(u), Double.isInfinite(freedom) ? "taken as known" : Texts.number(freedom, 1));
    }

    private Amount told(double value) {
        return new Amount(value, unit, Amount.Digits.SIGNIFICANT);
    }

    private String amount(double value) {
        return FindingText.of(told(value));
    }

    /**
     * What would settle a value inside the guard band, as a sentence that follows; empty where it was decided.
     *
     * @param seconds of data that the statistical part rests on; NaN without one
     */
    public String settling(double seconds) {
        return decision.settlement(budget).map(s -> " " + settling(s, seconds)).orElse("");
    }

    private String settling(Settlement s, double seconds) {
        return switch (s.remedy()) {
            case MORE_DATA -> {
                double more = 60 * Math.ceil(seconds * (s.timesTheData() - 1) / 60);
                yield "Its scatter would have to fall to " + amount(s.standardUncertainty()) + ": "
                        + (more > MOST_SECONDS
                                ? "no run of a day would do; find what makes it scatter."
                                : "a run longer by " + Texts.duration(more) + " would do, if nothing else changes.");
            }
            case BETTER_CALIBRATION ->
                "A longer run would not settle it, since the sensor's own error is too large; one known to "
                        + amount(2 * s.standardUncertainty()) + " (k = 2) would.";
            case NONE ->
                decision.value() == decision.limit()
                        ? "It lies exactly on the limit: only another reading can settle it."
                        : "A longer run would not settle it: this sensor's steps are too coarse for so near a value."
                                + " Improve the machine, not the measurement.";
        };
    }
}
