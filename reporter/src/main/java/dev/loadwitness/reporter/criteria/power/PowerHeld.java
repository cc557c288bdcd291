// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static dev.loadwitness.runlog.procedure.Parameters.PowerHeld.AT_LEAST;
import static dev.loadwitness.runlog.procedure.Parameters.PowerHeld.UNCERTAINTY;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Measured;
import dev.loadwitness.reporter.criteria.rule.Reference;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.criteria.rule.Soaks;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Unit;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.WindowTrack.Window;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;

/**
 * Median of the ten-second means of power in the stages of full load, against the fixed reference. What the part drew of
 * its limit of the moment is reported beside it, and so is what the loads of a single rail drew: neither decides.
 */
public final class PowerHeld implements Rule {
    @Override
    public Criterion criterion() {
        return Criterion.POWER_HELD;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        return Rule.ofEach(
                run.chips(),
                setting,
                "No stage loaded a part whose power could be held.",
                part -> judge(setting, run, part));
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        double share = setting.share(AT_LEAST);
        String origin = setting.origin(AT_LEAST);
        Reference reference = Reference.of(part, run.scan(), run.jobSheet());
        List<Window> windows = new ArrayList<>();
        List<Evidence> evidence = new ArrayList<>();
        for (StageTally stage : run.scan().stagesThatProve(part).toList()) {
            List<Window> settled = Soaks.settledPower(stage);
            if (stage.fullLoad()) {
                windows.addAll(settled);
            }
            if (!settled.isEmpty()) {
                evidence.add(Evidence.of(
                        stage.begin(), stage.stage().id() + ": " + watts(Soaks.medianWatts(settled), reference)));
            }
        }
        Limit limit = Limit.atLeast(
                reference.watts().isPresent()
                        ? Amount.watts(share * reference.watts().getAsDouble())
                        : Amount.percent(share));
        if (windows.isEmpty()) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "No power of " + Texts.part(part) + " under full load was read.")
                    .against(limit, origin)
                    .seen(evidence);
        }
        double median = Soaks.medianWatts(windows);
        if (reference.watts().isEmpty()) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            Texts.sentenceCase(Texts.part(part)) + " drew " + Texts.number(median, 0)
                                    + " W in the middle; its rating is unknown, and it tells no power limit.")
                    .against(limit, origin)
                    .seen(evidence);
        }
        double floor = share * reference.watts().getAsDouble();
        Measured measured = Measured.of(
                ConformityDecision.Side.AT_LEAST,
                median,
                floor,
                budget(setting, run, part, reference, median),
                run,
                Unit.WATT);
        Outcome outcome = measured.outcome();
        String drew = Texts.sentenceCase(Texts.part(part)) + " drew " + watts(median, reference) + ", "
                + reference.origin() + ", for at least half of its full load" + ofLimit(windows);
        String because = drew
                + switch (outcome) {
                    case PASS -> ".";
                    case FAIL -> ": it was not fully loaded, or could not take its power.";
                    default ->
                        ": too close to the " + Texts.number(floor, 0) + " W asked for to decide within "
                                + measured.expanded() + "." + measured.settling(Double.NaN);
                };
        return measured.on(Finding.of(setting, part.word(), outcome, because)
                .against(limit, origin)
                .measured(Value.of(Amount.watts(median)))
                .seen(evidence));
    }

    /**
     * The median is of all of the run's windows, so that nothing was sampled: the error is the sensor's alone. A limit that the
     * device shows it enforces by the same sensor, whose error is then common to both.
     */
    private static UncertaintyBudget budget(
            CriterionSetting setting, Case run, Role part, Reference reference, double watts) {
        Optional<Channel> channel = run.scan().channels().stream()
                .filter(c -> c.is(part, Metric.POWER))
                .findFirst();
        double resolution = channel.map(Channel::resolution).filter(r -> r > 0).orElse(1.0);
        UncertaintyBudget steps =
                UncertaintyBudget.none().stepped("steps of " + Texts.plain(resolution) + " W", resolution);
        if (!reference.independent()) {
            return steps;
        }
        double stated = channel.map(Channel::standardUncertainty).orElse(Double.NaN);
        return Double.isNaN(stated)
                ? steps.calibration(
                        "power sensor, as the procedure takes it", setting.share(UNCERTAINTY) * Math.abs(watts))
                : steps.calibration("power sensor, as it states", stated);
    }

    private static String watts(double watts, Reference reference) {
        return Texts.number(watts, 0) + " W"
                + (reference.watts().isEmpty()
                        ? ""
                        : ", " + Texts.percent(watts / reference.watts().getAsDouble()) + " of "
                                + Texts.number(reference.watts().getAsDouble(), 0) + " W");
    }

    private static String ofLimit(List<Window> windows) {
        double[] shares = windows.stream()
                .mapToDouble(w -> w.meanWatts() / w.lowestLimitOnMainsWatts())
                .filter(Double::isFinite)
                .sorted()
                .toArray();
        return shares.length == 0
                ? ""
                : "; " + Texts.percent(shares[(shares.length - 1) / 2]) + " of its limit of the moment";
    }
}
