// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static dev.loadwitness.runlog.procedure.Parameters.SoakDuration.POWER_SHARE;
import static dev.loadwitness.runlog.procedure.Parameters.WarmRoom.AMBIENT_UNCERTAINTY;
import static dev.loadwitness.runlog.procedure.Parameters.WarmRoom.CEILING;
import static dev.loadwitness.runlog.procedure.Parameters.WarmRoom.MARGIN;
import static dev.loadwitness.runlog.procedure.Parameters.WarmRoom.UNCERTAINTY;
import static dev.loadwitness.runlog.procedure.Parameters.WarmRoom.WARM;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Measured;
import dev.loadwitness.reporter.criteria.rule.Plateaus;
import dev.loadwitness.reporter.criteria.rule.Reference;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.criteria.rule.Warming;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Unit;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.StepResponse;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.OptionalDouble;

/**
 * Whether a part that is cool enough here would be in a warm room: its plateau, moved up by as much as that room is warmer.
 *
 * <p>An estimate. Fans that speed up in the warm room make it cooler than this, leakage that grows makes it warmer.
 */
public final class WarmRoom implements Rule {
    /** Share of the fixed power reference from which on a load is full, whatever less a procedure counts as a soak. */
    private static final double FULL_SHARE = POWER_SHARE.defaultValue();

    static final String ROOM = "room's temperature";
    static final String PLATEAU = "where it comes to rest";

    @Override
    public Criterion criterion() {
        return Criterion.WARM_ROOM;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        return Rule.ofEach(run.chips(), setting, TemperatureCeiling.NO_PART, part -> judge(setting, run, part));
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        OptionalDouble ambient = run.scan().header().ambientCelsius();
        if (ambient.isEmpty()) {
            return Finding.of(
                    setting,
                    part.word(),
                    Outcome.NOT_MEASURED,
                    "The ambient temperature was not taken, so nothing is known of a warmer room.");
        }
        List<Warming> stages = run.scan()
                .stagesThatProve(part)
                .map(stage -> run.warming(stage, part))
                .toList();
        Optional<Warming> regulated = stages.stream()
                .filter(w -> w.state() == Warming.State.REGULATED)
                .findFirst();
        if (regulated.isPresent()) {
            Warming w = regulated.get();
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            Texts.sentenceCase(Texts.part(part)) + " is regulated in stage "
                                    + w.stage().stage().id() + ": " + w.why() + ". What it sustained is "
                                    + Texts.number(w.watts(), 0) + " W; in a warmer room it would be less.")
                    .seen(List.of(Evidence.of(w.stage().begin(), "the stage begins")));
        }
        OptionalDouble reference =
                Reference.of(part, run.scan(), run.jobSheet()).watts();
        Optional<Warming> hottest = stages.stream()
                .filter(Warming::measured)
                .filter(w -> !(w.watts() < FULL_SHARE * reference.orElse(0)))
                .max(Comparator.comparingDouble(w -> w.response().orElseThrow().plateau()));
        if (hottest.isEmpty()) {
            String why = stages.stream()
                    .max(Comparator.comparingDouble(w -> w.stage().seconds()))
                    .map(w -> (w.measured() ? light(w, reference) : w.why()) + " (stage "
                            + w.stage().stage().id() + ")")
                    .orElse("no stage that proves it was run");
            return Finding.of(
                    setting,
                    part.word(),
                    Outcome.NOT_MEASURED,
                    "Where " + Texts.part(part) + " would come to rest is not known: " + why + ".");
        }
        return judge(setting, run, hottest.get(), ambient.getAsDouble());
    }

    private static String light(Warming w, OptionalDouble reference) {
        return "it came to rest at " + Texts.number(w.response().orElseThrow().plateau(), 0) + " °C while it drew "
                + Texts.number(w.watts(), 0) + " W of " + Texts.number(reference.orElseThrow(), 0)
                + " W, and at its full load it would be warmer";
    }

    private static Finding judge(CriterionSetting setting, Case run, Warming w, double ambient) {
        StepResponse response = w.response().orElseThrow();
        Channel channel =
                w.stage().thermal().temperature(w.part()).orElseThrow().channel();
        OptionalDouble slowdown = channel.slowdown();
        double limit =
                slowdown.isPresent() ? slowdown.getAsDouble() - setting.kelvin(MARGIN) : setting.celsius(CEILING);
        String origin = slowdown.isPresent()
                ? "device (slowdown at " + Texts.number(slowdown.getAsDouble(), 0) + " °C) less "
                        + Texts.number(setting.kelvin(MARGIN), 0) + " K, " + setting.origin(MARGIN)
                : setting.origin(CEILING);
        // The sensor's own error is common to the reading and to a limit that it enforces: left out there.
        UncertaintyBudget budget = UncertaintyBudget.none()
                .statistical(PLATEAU, response.halfWidth() / 2, Double.POSITIVE_INFINITY)
                .calibration(ROOM, setting.kelvin(AMBIENT_UNCERTAINTY));
        if (slowdown.isEmpty()) {
            budget = Double.isNaN(channel.standardUncertainty())
                    ? budget.calibration("sensor, as the procedure takes it", setting.kelvin(UNCERTAINTY))
                    : budget.calibration("sensor, as it states", channel.standardUncertainty());
        }
        double warm = setting.celsius(WARM);
        double there = response.plateau() + warm - ambient;
        Measured measured = Measured.of(ConformityDecision.Side.AT_MOST, there, limit, budget, run, Unit.KELVIN);
        Outcome outcome = measured.outcome();
        String estimate = "In a room of " + Texts.number(warm, 0) + " °C " + Texts.part(w.part())
                + " would come to rest at about " + Texts.number(there, 0) + " °C";
        String because =
                switch (outcome) {
                    case PASS -> estimate + " at the " + Texts.number(w.watts(), 0) + " W that it drew.";
                    case FAIL ->
                        estimate + ", above " + Texts.number(limit, 0)
                                + " °C: it would hold itself back there, cool as it is here.";
                    default ->
                        estimate + ", too close to " + Texts.number(limit, 0) + " °C to decide: " + settling(budget);
                };
        return measured.on(Finding.of(setting, w.part().word(), outcome, because)
                .against(Limit.atMost(Amount.celsius(limit)), origin)
                .measured(Value.of(Amount.celsius(there)))
                .seen(Plateaus.evidence(w, ambient)));
    }

    /** What would settle it: whatever makes the largest part of the uncertainty smaller. */
    static String settling(UncertaintyBudget budget) {
        String largest = budget.components().stream()
                .max(Comparator.comparingDouble(UncertaintyBudget.Component::standardUncertainty))
                .orElseThrow()
                .name();
        return switch (largest) {
            case ROOM -> "measure the ambient temperature better.";
            case PLATEAU -> "run longer, so that the plateau is better known.";
            default -> "the sensor's own error is too large; a longer run settles nothing.";
        };
    }
}
