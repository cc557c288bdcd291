// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static dev.loadwitness.runlog.procedure.Parameters.EnergyAgrees.TOLERANCE;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Unit;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.stage.PowerTally;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.List;

/**
 * The energy counter's growth against the power readings added up (trapezoid), over the same pairs of samples, in the
 * stages that prove the part. Two witnesses of one quantity: where they differ, one of them cannot be believed.
 */
public final class EnergyAgrees implements Rule {
    /** In less time the second by which a smoothed reading lags would weigh more than the tolerance (ours). */
    private static final double LEAST_SECONDS = 60;

    @Override
    public Criterion criterion() {
        return Criterion.ENERGY_AGREES;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        return Rule.ofEach(
                run.chips(),
                setting,
                "No stage loaded a part that counts its energy.",
                part -> judge(setting, run, part));
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        double tolerance = setting.share(TOLERANCE);
        Limit limit = new Limit.Within(Amount.percent(tolerance));
        String origin = setting.origin(TOLERANCE);
        List<PowerTally> tallies = run.scan()
                .stagesThatProve(part)
                .map(StageTally::powers)
                .flatMap(List::stream)
                .filter(p -> p.role() == part)
                .toList();
        double counted = tallies.stream().mapToDouble(PowerTally::joulesCounted).sum();
        double added = tallies.stream().mapToDouble(PowerTally::joulesAdded).sum();
        double seconds =
                tallies.stream().mapToDouble(PowerTally::comparedSeconds).sum();
        if (seconds < LEAST_SECONDS) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "Energy counter and power of " + Texts.part(part) + " were not both read for "
                                    + Texts.duration(LEAST_SECONDS) + ".")
                    .against(limit, origin);
        }
        double deviation = counted > 0 ? added / counted - 1 : Double.POSITIVE_INFINITY;
        boolean pass = Math.abs(deviation) <= tolerance;
        String because = "Over " + Texts.duration(seconds) + " the energy counter of " + Texts.part(part) + " grew by "
                + kilojoules(counted) + ", and its power readings add up to " + kilojoules(added)
                + (pass ? "." : ": one of the two cannot be believed.");
        return Finding.of(setting, part.word(), pass ? Outcome.PASS : Outcome.FAIL, because)
                .against(limit, origin)
                .measured(
                        Double.isFinite(deviation)
                                ? Value.change(new Amount(deviation, Unit.PERCENT, Amount.Digits.HUNDREDTHS))
                                : Value.said("the counter stood still"));
    }

    private static String kilojoules(double joules) {
        return Texts.number(joules / 1000, 1) + " kJ";
    }
}
