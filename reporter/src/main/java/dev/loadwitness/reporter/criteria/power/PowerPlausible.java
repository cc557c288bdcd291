// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static dev.loadwitness.runlog.procedure.Parameters.PowerPlausible.EFFICIENCY;
import static dev.loadwitness.runlog.procedure.Parameters.PowerPlausible.TOLERANCE;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.Power;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;

/**
 * What the machine reports of its own power, against a meter between wall and adapter: a substitute power stage can report
 * a current that does not flow. Both as the rise from the idle stage to the longest soak, so that what is the same in
 * both (display, board) drops out.
 */
public final class PowerPlausible implements Rule {
    @Override
    public Criterion criterion() {
        return Criterion.POWER_PLAUSIBLE;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        double efficiency = setting.share(EFFICIENCY);
        double tolerance = setting.share(TOLERANCE);
        Limit limit = new Limit.Within(Amount.percent(tolerance));
        String origin = setting.origin(TOLERANCE);
        Optional<String> missing = missing(run);
        if (missing.isPresent()) {
            return List.of(Finding.of(
                            setting,
                            "",
                            Outcome.NOT_MEASURED,
                            "The power that the machine reports is unchecked: " + missing.get())
                    .against(limit, origin));
        }
        StageTally idle = idle(run).orElseThrow();
        StageTally soak = soak(run).orElseThrow();
        Power.WallMeter meter = run.jobSheet().orElseThrow().wallMeter();
        double wall = meter.soakWatts().orElseThrow() - meter.idleWatts().orElseThrow();
        double reported = 0;
        List<String> terms = new ArrayList<>();
        for (Role role : List.of(Role.GPU_DISCRETE, Role.CPU, Role.BATTERY)) {
            double rise = soak.meanWatts(role) - idle.meanWatts(role);
            if (!Double.isNaN(rise)) {
                reported += rise;
                terms.add((role == Role.BATTERY ? "battery charging " : Texts.part(role) + " ") + (rise < 0 ? "" : "+")
                        + Texts.number(rise, 0) + " W");
            }
        }
        double arriving = efficiency * wall;
        double deviation = arriving / reported - 1;
        boolean pass = reported > 0 && Math.abs(deviation) <= tolerance;
        String because = "From stage " + idle.stage().id() + " to "
                + soak.stage().id() + " the wall meter rose by "
                + Texts.number(wall, 0) + " W, of which " + Texts.percent(efficiency) + " or "
                + Texts.number(arriving, 0) + " W reach the chips; the machine reports " + Texts.number(reported, 0)
                + " W (" + String.join(", ", terms) + ")"
                + (pass ? "." : ": one of the two is wrong; suspect the current sense of the power stages.");
        return List.of(Finding.of(setting, "", pass ? Outcome.PASS : Outcome.FAIL, because)
                .against(limit, origin)
                .measured(Value.change(Amount.percent(deviation)))
                .seen(List.of(
                        Evidence.of(
                                idle.begin(),
                                "meter " + Texts.number(meter.idleWatts().orElseThrow(), 0) + " W"),
                        Evidence.of(
                                soak.begin(),
                                "meter " + Texts.number(meter.soakWatts().orElseThrow(), 0) + " W"))));
    }

    private static Optional<StageTally> idle(Case run) {
        return run.scan().stages().stream()
                .filter(s -> s.stage().loads().isEmpty())
                .findFirst();
    }

    private static Optional<StageTally> soak(Case run) {
        return run.scan().stages().stream()
                .filter(s -> s.stage().proves().isPresent() && s.fullLoad())
                .max(Comparator.comparingDouble(StageTally::seconds));
    }

    private static Optional<String> missing(Case run) {
        Optional<Power.WallMeter> meter = run.jobSheet().map(JobSheet::wallMeter);
        if (meter.filter(m -> m.idleWatts().isPresent() && m.soakWatts().isPresent())
                .isEmpty()) {
            return Optional.of("the job sheet has no readings of a wall meter, idle and in the soak.");
        }
        Optional<StageTally> idle = idle(run);
        Optional<StageTally> soak = soak(run);
        if (idle.isEmpty() || soak.isEmpty()) {
            return Optional.of("the run has no idle stage and no soak to compare.");
        }
        boolean discrete = run.parts().contains(Role.GPU_DISCRETE)
                || run.scan().has(Role.GPU_DISCRETE, Metric.POWER)
                || run.scan().has(Role.GPU_DISCRETE, Metric.ENERGY);
        for (Role role : discrete ? List.of(Role.CPU, Role.GPU_DISCRETE) : List.of(Role.CPU)) {
            if (Double.isNaN(idle.get().meanWatts(role))
                    || Double.isNaN(soak.get().meanWatts(role))) {
                return Optional.of("the power of " + Texts.part(role) + " was not read in stages "
                        + idle.get().stage().id() + " and " + soak.get().stage().id() + ".");
            }
        }
        return Optional.empty();
    }
}
