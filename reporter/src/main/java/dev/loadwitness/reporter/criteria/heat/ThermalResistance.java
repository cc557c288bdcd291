// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static dev.loadwitness.runlog.procedure.Parameters.ThermalResistance.AMBIENT_UNCERTAINTY;
import static dev.loadwitness.runlog.procedure.Parameters.ThermalResistance.AT_LEAST;
import static dev.loadwitness.runlog.procedure.Parameters.ThermalResistance.AT_MOST;
import static dev.loadwitness.runlog.procedure.Parameters.ThermalResistance.POWER_UNCERTAINTY;
import static dev.loadwitness.runlog.procedure.Parameters.ThermalResistance.UNCERTAINTY;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Outcomes;
import dev.loadwitness.reporter.criteria.rule.Plateaus;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.criteria.rule.Warming;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.StepResponse;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.OptionalDouble;

/**
 * How many kelvin above the room the discrete GPU comes to rest for each watt it draws: a figure of the whole way from chip to
 * room, to be compared with the same machine before, or with its like; never with the data sheet of a package.
 */
public final class ThermalResistance implements Rule {
    private static final Role PART = Role.GPU_DISCRETE;

    @Override
    public Criterion criterion() {
        return Criterion.THERMAL_RESISTANCE;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        OptionalDouble ambient = run.scan().header().ambientCelsius();
        if (ambient.isEmpty()) {
            return notMeasured(
                    setting, "The ambient temperature was not taken, so nothing is known of the rise above it.");
        }
        List<Warming> stages = run.scan()
                .stagesThatProve(PART)
                .map(stage -> run.warming(stage, PART))
                .toList();
        Optional<Warming> best = stages.stream()
                .filter(Warming::measured)
                .min(Comparator.comparingDouble(w -> w.response().orElseThrow().halfWidth()));
        if (best.isEmpty()) {
            String why = stages.stream()
                    .max(Comparator.comparingDouble(w -> w.stage().seconds()))
                    .map(w -> w.why() + " (stage " + w.stage().stage().id() + ")")
                    .orElse("no stage that proves it was run");
            return notMeasured(
                    setting, "The discrete GPU's rise above the room for each watt is not known: " + why + ".");
        }
        return List.of(judge(setting, run, best.get(), ambient.getAsDouble()));
    }

    private static List<Finding> notMeasured(CriterionSetting setting, String because) {
        return List.of(Finding.of(setting, PART.word(), Outcome.NOT_MEASURED, because));
    }

    private static Finding judge(CriterionSetting setting, Case run, Warming w, double ambient) {
        StepResponse response = w.response().orElseThrow();
        double rise = response.plateau() - ambient;
        double resistance = rise / w.watts();
        UncertaintyBudget budget = budget(setting, w, rise);
        double least = setting.kelvinPerWatt(AT_LEAST);
        double most = setting.kelvinPerWatt(AT_MOST);
        // A band as wide as a procedure can state is none.
        boolean banded = least > AT_LEAST.minimum() || most < AT_MOST.maximum();
        double factor = run.judgedBy().decision().guardFactor();
        ConformityDecision below =
                ConformityDecision.decide(ConformityDecision.Side.AT_MOST, resistance, most, budget, factor);
        ConformityDecision above =
                ConformityDecision.decide(ConformityDecision.Side.AT_LEAST, resistance, least, budget, factor);
        Outcome outcome = banded ? both(Outcomes.of(below), Outcomes.of(above)) : Outcome.INCONCLUSIVE;
        Finding finding = Finding.of(
                        setting, PART.word(), outcome, because(outcome, banded, w, rise, resistance, least))
                .measured(Value.of(Amount.kelvinPerWatt(resistance)))
                .seen(evidence(run, w, ambient, setting));
        Amount expanded = Amount.kelvinPerWatt(budget.expanded());
        if (!banded) {
            return finding.against(Limit.said("none given"), setting.origin(AT_MOST))
                    .uncertain(expanded);
        }
        return finding.against(
                        new Limit.Band(Amount.kelvinPerWatt(least), Amount.kelvinPerWatt(most)),
                        setting.origin(AT_MOST))
                .uncertain(expanded, Math.max(0, below.conformanceProbability() + above.conformanceProbability() - 1));
    }

    /** R = (T − a)/P: u² = (u(T)² + u(sensor)² + u(a)²)/P² + R²·(u(P)/P)². */
    private static UncertaintyBudget budget(CriterionSetting setting, Warming w, double rise) {
        Channel sensor = w.stage().thermal().temperature(PART).orElseThrow().channel();
        Channel meter = w.stage().thermal().power(PART).orElseThrow().channel();
        double ofSensor =
                Double.isNaN(sensor.standardUncertainty()) ? setting.kelvin(UNCERTAINTY) : sensor.standardUncertainty();
        boolean stated =
                !Double.isNaN(meter.standardUncertainty()) && meter.measures(dev.loadwitness.runlog.Metric.POWER);
        double ofMeter = stated ? meter.standardUncertainty() : setting.share(POWER_UNCERTAINTY) * w.watts();
        double scatter = Double.isNaN(w.wattsError()) ? 0 : w.wattsError();
        double watts = w.watts();
        double perWatt = Math.abs(rise) / watts / watts;
        return UncertaintyBudget.none()
                .statistical(
                        "where it comes to rest",
                        w.response().orElseThrow().halfWidth() / 2 / watts,
                        Double.POSITIVE_INFINITY)
                .calibration("temperature sensor", ofSensor / watts)
                .calibration("room's temperature", setting.kelvin(AMBIENT_UNCERTAINTY) / watts)
                .calibration("power sensor", ofMeter * perWatt)
                .statistical("mean power", scatter * perWatt, Double.POSITIVE_INFINITY);
    }

    private static Outcome both(Outcome a, Outcome b) {
        if (a == Outcome.FAIL || b == Outcome.FAIL) {
            return Outcome.FAIL;
        }
        return a == Outcome.PASS && b == Outcome.PASS ? Outcome.PASS : Outcome.INCONCLUSIVE;
    }

    private static String because(
            Outcome outcome, boolean banded, Warming w, double rise, double resistance, double least) {
        String told = "In stage " + w.stage().stage().id() + " the discrete GPU comes to rest " + Texts.number(rise, 0)
                + " K above the room at " + Texts.number(w.watts(), 0) + " W";
        if (!banded) {
            return told + ": reported, not judged, because the procedure gives no band for this model.";
        }
        return switch (outcome) {
            case PASS -> told + ", as its like do.";
            case FAIL ->
                resistance < least
                        ? told + ", cooler than its like can be: look at how the ambient temperature was taken, and at"
                                + " the reported power."
                        : told + ", more than its like: look at heatsink contact, pads, paste, fans and vents.";
            default -> told + ", too close to an end of its model's band to decide.";
        };
    }

    private static List<Evidence> evidence(Case run, Warming w, double ambient, CriterionSetting setting) {
        List<Evidence> evidence = new ArrayList<>(Plateaus.evidence(w, ambient));
        cooling(run).ifPresent(evidence::add);
        evidence.add(SharedHeat.of(run, w, ambient, setting.kelvin(AMBIENT_UNCERTAINTY)));
        return evidence;
    }

    /** The time constant once more, from a stage without a load: other fan speeds, other constants, so only reported. */
    private static Optional<Evidence> cooling(Case run) {
        List<StageTally> stages = run.scan().stages();
        for (int i = stages.size() - 1; i > 0; i--) {
            StageTally stage = stages.get(i);
            if (stage.stage().loads().isEmpty()) {
                Warming w = run.warming(stage, PART);
                double tau = w.response().map(StepResponse::timeConstantSeconds).orElse(Double.NaN);
                if (Double.isFinite(tau)) {
                    return Optional.of(Evidence.of(
                            stage.begin(),
                            "cooling in stage " + stage.stage().id() + " shows a time constant of "
                                    + Texts.duration(tau)
                                    + (w.measured() ? "" : ", of a stretch too short to be sure")));
                }
            }
        }
        return Optional.empty();
    }
}
