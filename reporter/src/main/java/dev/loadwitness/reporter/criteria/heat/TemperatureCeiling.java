// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static dev.loadwitness.runlog.procedure.Parameters.TemperatureCeiling.BLOCK;
import static dev.loadwitness.runlog.procedure.Parameters.TemperatureCeiling.CEILING;
import static dev.loadwitness.runlog.procedure.Parameters.TemperatureCeiling.MARGIN;
import static dev.loadwitness.runlog.procedure.Parameters.TemperatureCeiling.UNCERTAINTY;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Measured;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Unit;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.heat.TemperatureTally;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Ending;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.OptionalDouble;

/**
 * The hottest minute of each temperature of a part against the device's own slowdown for it less a margin, or, where it
 * states none, that of the chip against the procedure's ceiling; and the single peak against the device's own shutdown limit.
 *
 * <p>The highest of thousands of correlated readings is biased upward, so means of whole minutes are judged. The
 * sensor's calibration error is common to the reading and to the device's own limit and is left out there; against a
 * limit of the procedure it is put in, once. The resolution of a sticky integer sensor does not average away, and which way it
 * rounds no driver says.
 */
public final class TemperatureCeiling implements Rule {
    /** What is said where nothing is judged. */
    static final String NO_PART = "No stage loaded a part whose temperature is judged.";

    /** Resolution assumed where the sensor states none (common practice, no source). */
    private static final double ASSUMED_RESOLUTION_KELVIN = 1;

    @Override
    public Criterion criterion() {
        return Criterion.TEMPERATURE_CEILING;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        return Rule.ofEach(run.chips(), setting, NO_PART, part -> judge(setting, run, part));
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        List<TemperatureTally> tallies = run.scan().temperatures().stream()
                .filter(t -> t.channel().is(part, Metric.TEMPERATURE))
                // The procedure's ceiling is for the chip: other temperatures are judged by their own limits or not at
                // all.
                .filter(t -> t.channel().slowdown().isPresent()
                        || t.channel().isOfTheChip(run.scan().channels()))
                .toList();
        return tallies.stream()
                .map(tally -> judge(setting, run, part, tally))
                .max(Comparator.comparingDouble(TemperatureCeiling::rank))
                .orElseGet(() -> Finding.of(
                        setting,
                        part.word(),
                        Outcome.NOT_MEASURED,
                        "This machine has no temperature sensor for " + Texts.part(part) + " that could be read."));
    }

    /** A failure outranks doubt, doubt outranks a pass; among equals the smaller conformity is shown. */
    private static double rank(Finding f) {
        double outcome =
                switch (f.outcome()) {
                    case FAIL -> 4;
                    case NOT_MEASURED -> 3;
                    case INCONCLUSIVE -> 2;
                    case PASS -> 1;
                    case NOT_APPLICABLE -> 0;
                };
        return outcome - f.conformity().orElse(1) / 2;
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part, TemperatureTally tally) {
        Channel channel = tally.channel();
        if (tally.hottestAt() == null || tally.peakAt() == null) {
            return Finding.of(
                    setting,
                    part.word(),
                    Outcome.NOT_MEASURED,
                    "The sensor " + channel.id() + " gave no whole minute of readings.");
        }
        OptionalDouble slowdown = channel.slowdown();
        double limit =
                slowdown.isPresent() ? slowdown.getAsDouble() - setting.kelvin(MARGIN) : setting.celsius(CEILING);
        String origin = slowdown.isPresent()
                ? "device (slowdown at " + Texts.number(slowdown.getAsDouble(), 0) + " °C) less "
                        + Texts.number(setting.kelvin(MARGIN), 0) + " K, " + setting.origin(MARGIN)
                : setting.origin(CEILING);
        Measured measured = Measured.of(
                ConformityDecision.Side.AT_MOST,
                tally.hottestMean(),
                limit,
                budget(setting, channel, slowdown.isPresent()),
                run,
                Unit.KELVIN);
        List<Evidence> evidence = new ArrayList<>();
        evidence.add(Evidence.of(
                tally.hottestAt(),
                "hottest " + Texts.duration(setting.seconds(BLOCK)) + " of " + channel.id() + " begins"));
        evidence.add(Evidence.of(tally.peakAt(), "peak " + Texts.number(tally.peak(), 1) + " °C"));
        OptionalDouble shutdown = channel.limit(LimitType.HIGH_CRITICAL);
        boolean peakTooHigh = shutdown.isPresent() && tally.peak() >= shutdown.getAsDouble();
        boolean tripped = measured.outcome() == Outcome.PASS && trippedForHeat(run);
        Outcome outcome = peakTooHigh ? Outcome.FAIL : tripped ? Outcome.INCONCLUSIVE : measured.outcome();
        String because;
        if (peakTooHigh) {
            because = "A single reading of " + channel.id() + " reached the device's own shutdown limit of "
                    + Texts.number(shutdown.getAsDouble(), 0) + " °C.";
        } else if (tripped) {
            because = "The hottest minute of " + Texts.part(part) + " was " + Texts.number(tally.hottestMean(), 1)
                    + " °C, its highest reading " + Texts.number(tally.peak(), 0)
                    + " °C, and the machine switched itself off for heat.";
        } else {
            because = because(part, tally, limit, outcome, measured);
        }
        return measured.on(Finding.of(setting, part.word(), outcome, because)
                .against(Limit.atMost(Amount.celsius(limit)), origin)
                .measured(Value.of(Amount.celsius(tally.hottestMean())))
                .seen(evidence));
    }

    private static boolean trippedForHeat(Case run) {
        return run.scan().segments().stream()
                .flatMap(s -> s.evidence().stream())
                .anyMatch(e -> Ending.of(e.facts()).shown().containsKey(EndCause.THERMAL_TRIP));
    }

    private static UncertaintyBudget budget(CriterionSetting setting, Channel channel, boolean ownLimit) {
        double resolution = Double.isNaN(channel.resolution()) ? ASSUMED_RESOLUTION_KELVIN : channel.resolution();
        UncertaintyBudget steps =
                UncertaintyBudget.none().stepped("steps of " + Texts.plain(resolution) + " K", resolution);
        if (ownLimit) {
            return steps;
        }
        return Double.isNaN(channel.standardUncertainty())
                ? steps.calibration("sensor, as the procedure takes it", setting.kelvin(UNCERTAINTY))
                : steps.calibration("sensor, as it states", channel.standardUncertainty());
    }

    private static String because(Role part, TemperatureTally tally, double limit, Outcome outcome, Measured measured) {
        String reading =
                "The hottest minute of " + Texts.part(part) + " was " + Texts.number(tally.hottestMean(), 1) + " °C";
        double below = limit - tally.hottestMean();
        return switch (outcome) {
            case PASS -> reading + ", " + Texts.number(below, 1) + " K below the limit.";
            case FAIL ->
                reading + ", " + Texts.number(-below, 1)
                        + " K above the limit: look at heatsink contact, pads, paste, fans and vents.";
            default ->
                reading + ", too close to the limit of " + Texts.number(limit, 1)
                        + " °C to decide within the uncertainty of " + measured.expanded() + "."
                        + measured.settling(Double.NaN);
        };
    }
}
