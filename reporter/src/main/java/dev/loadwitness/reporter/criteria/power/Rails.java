// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static dev.loadwitness.runlog.procedure.Parameters.Rails.TOLERANCE;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Outcomes;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.FindingText;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.Rail;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.yaml.Measure;
import java.math.BigDecimal;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/**
 * The voltage of each rail on the job sheet, as measured by hand after the repair, against the rail's own limits; a fixed
 * rail without any, against a share of its nominal voltage.
 *
 * <p>What is right on a controlled rail depends on what the chip asks for, so it is recorded with its load state beside
 * a known-good board and judged only where the sheet gives it limits. Resistances decide nothing: a few tenths of an ohm
 * are normal on a core rail and a dead short on another. What was measured before the repair is reported.
 */
public final class Rails implements Rule {
    @Override
    public Criterion criterion() {
        return Criterion.RAILS;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        List<Rail> rails = run.jobSheet().map(JobSheet::rails).orElse(List.of());
        if (rails.isEmpty()) {
            return List.of(Finding.of(
                    setting,
                    "",
                    Outcome.NOT_MEASURED,
                    "The job sheet lists no rail. Write down what was measured, and judge again with the sheet."));
        }
        return rails.stream()
                .map(rail -> judge(setting, run, rail).seen(readings(rail)))
                .toList();
    }

    private static Finding judge(CriterionSetting setting, Case run, Rail rail) {
        Optional<Limits> limits = limits(setting, rail);
        if (limits.isEmpty()) {
            return unlimited(setting, rail);
        }
        Limits within = limits.get();
        if (rail.voltsAfter().isEmpty()) {
            return Finding.of(
                            setting,
                            rail.title(),
                            Outcome.NOT_MEASURED,
                            Texts.sentenceCase(rail.name()) + " has limits and no voltage after the repair.")
                    .against(within.limit(), within.origin());
        }
        double volts = rail.voltsAfter().getAsDouble();
        UncertaintyBudget budget = UncertaintyBudget.none()
                .calibration("meter", rail.uncertaintyVolts().orElse(0) / 2);
        double guardFactor = run.judgedBy().decision().guardFactor();
        List<ConformityDecision> sides = new ArrayList<>();
        within.least()
                .ifPresent(least -> sides.add(ConformityDecision.decide(
                        ConformityDecision.Side.AT_LEAST, volts, least, budget, guardFactor)));
        within.most()
                .ifPresent(most -> sides.add(
                        ConformityDecision.decide(ConformityDecision.Side.AT_MOST, volts, most, budget, guardFactor)));
        Outcome outcome = worst(sides);
        Finding finding = Finding.of(setting, rail.title(), outcome, because(rail, within, volts, outcome))
                .against(within.limit(), within.origin())
                .measured(Value.of(Amount.volts(volts)));
        // The two sides cannot both be missed, so what each may miss adds up.
        double conformity = 1
                - sides.stream()
                        .mapToDouble(d -> 1 - d.conformanceProbability())
                        .sum();
        return budget.standard() == 0
                ? finding
                : finding.uncertain(Amount.volts(budget.expanded()), Math.max(0, conformity));
    }

    private static Outcome worst(List<ConformityDecision> sides) {
        List<Outcome> outcomes = sides.stream().map(Outcomes::of).toList();
        return outcomes.contains(Outcome.FAIL)
                ? Outcome.FAIL
                : outcomes.contains(Outcome.INCONCLUSIVE) ? Outcome.INCONCLUSIVE : Outcome.PASS;
    }

    private static String because(Rail rail, Limits within, double volts, Outcome outcome) {
        String said = measured(rail, volts);
        String compared = rail.uncertaintyVolts().isPresent()
                ? ""
                : " The meter's uncertainty is not on the sheet: the reading was compared as it is.";
        return switch (outcome) {
            case PASS -> said + ", within its limits of " + within.text() + "." + compared;
            case FAIL ->
                said + ", " + volts(-within.margin(volts)) + " outside its limits of " + within.text()
                        + ": look at its regulator, its feedback and what loads it." + compared;
            default ->
                said + ", too close to its limits of " + within.text() + " to decide within the meter's uncertainty of "
                        + volts(rail.uncertaintyVolts().orElse(0)) + ": measure again with a better one.";
        };
    }

    /** No limits: recorded where that is what the sheet says of the rail, else not measured. */
    private static Finding unlimited(CriterionSetting setting, Rail rail) {
        String name = Texts.sentenceCase(rail.name());
        boolean controlled = rail.kind().equals(Optional.of(Rail.Kind.CONTROLLED));
        if (!controlled && !rail.state().equals(Rail.OFF)) {
            return Finding.of(
                    setting,
                    rail.title(),
                    Outcome.NOT_MEASURED,
                    name
                            + " has nothing to be judged by: give it limits (least, most), or its kind: fixed with a nominal"
                            + " voltage, or controlled.");
        }
        String open = Stream.of(
                        rail.voltsAfter().isEmpty() ? "its voltage after the repair" : "",
                        rail.state().isEmpty() ? "its state (idle, loaded, standby, off)" : "")
                .filter(s -> !s.isEmpty())
                .collect(Collectors.joining(" and "));
        if (!open.isEmpty()) {
            return Finding.of(
                    setting,
                    rail.title(),
                    Outcome.NOT_MEASURED,
                    name + " is not recorded whole: the job sheet lacks " + open + ".");
        }
        double volts = rail.voltsAfter().getAsDouble();
        String why = controlled
                ? "what is right on a controlled rail depends on the load"
                : "no voltage is asked of a rail that is off";
        return Finding.of(
                        setting,
                        rail.title(),
                        Outcome.NOT_APPLICABLE,
                        "Recorded, not judged: " + why + ". " + measured(rail, volts) + compared(rail, volts) + ".")
                .measured(Value.of(Amount.volts(volts)));
    }

    private static String measured(Rail rail, double volts) {
        return Texts.sentenceCase(rail.name()) + " was " + volts(volts)
                + (rail.state().isEmpty() ? "" : " (" + rail.state() + ")");
    }

    private static String compared(Rail rail, double volts) {
        OptionalDouble good = rail.knownGood().volts();
        if (good.isEmpty()) {
            return "; the sheet has no known-good board to compare with";
        }
        return "; a known-good board reads " + volts(good.getAsDouble()) + ", so it is off by "
                + signed(volts - good.getAsDouble());
    }

    private static Optional<Limits> limits(CriterionSetting setting, Rail rail) {
        String from = rail.limitsOrigin().isEmpty() ? "" : ": " + rail.limitsOrigin();
        if (rail.voltsLeast().isPresent() || rail.voltsMost().isPresent()) {
            return Optional.of(new Limits(rail.voltsLeast(), rail.voltsMost(), "job sheet" + from));
        }
        if (rail.hasOwnLimits()) {
            double share = rail.toleranceShare().orElseThrow();
            return Optional.of(around(rail, share, "job sheet (" + plusMinus(share) + ")" + from));
        }
        boolean fixed = rail.kind().equals(Optional.of(Rail.Kind.FIXED));
        if (fixed && rail.nominalVolts().isPresent() && !rail.state().equals(Rail.OFF)) {
            double share = setting.share(TOLERANCE);
            return Optional.of(
                    around(rail, share, setting.origin(TOLERANCE) + " (" + plusMinus(share) + " of a fixed rail)"));
        }
        return Optional.empty();
    }

    /** In decimals, so that 3.3 V ± 5 % ends at 3.135 V and not a bit beside it. */
    private static Limits around(Rail rail, double share, String origin) {
        BigDecimal nominal = BigDecimal.valueOf(rail.nominalVolts().orElseThrow());
        BigDecimal room = nominal.abs().multiply(BigDecimal.valueOf(share));
        return new Limits(
                OptionalDouble.of(nominal.subtract(room).doubleValue()),
                OptionalDouble.of(nominal.add(room).doubleValue()),
                origin);
    }

    private static List<Evidence> readings(Rail rail) {
        List<Evidence> all = new ArrayList<>();
        add(all, "before the repair", rail.before());
        add(all, "after the repair", rail.after());
        add(all, "known-good board", rail.knownGood());
        return all;
    }

    private static void add(List<Evidence> all, String when, Rail.Reading reading) {
        List<String> parts = new ArrayList<>();
        reading.volts().ifPresent(v -> parts.add(volts(v)));
        reading.ohms().ifPresent(r -> parts.add(Measure.RESISTANCE.write(r) + " to ground, power off"));
        reading.diodeVolts().ifPresent(v -> parts.add(volts(v) + " in the diode range, power off"));
        if (!parts.isEmpty()) {
            all.add(Evidence.named("job sheet", when + ": " + String.join("; ", parts)));
        }
    }

    private static String plusMinus(double share) {
        return "± " + Texts.asWritten(share * 100) + " %";
    }

    private static String signed(double volts) {
        return FindingText.signed(Amount.volts(volts));
    }

    private static String volts(double volts) {
        return FindingText.of(Amount.volts(volts));
    }

    private record Limits(OptionalDouble least, OptionalDouble most, String origin) {
        Limit limit() {
            if (least.isEmpty()) {
                return Limit.atMost(Amount.volts(most.orElseThrow()));
            }
            return most.isEmpty()
                    ? Limit.atLeast(Amount.volts(least.getAsDouble()))
                    : new Limit.Band(Amount.volts(least.getAsDouble()), Amount.volts(most.getAsDouble()));
        }

        String text() {
            return FindingText.of(limit());
        }

        /** Negative by as much as it is outside. */
        double margin(double volts) {
            return limit().margin(Amount.volts(volts)).orElseThrow().held();
        }
    }
}
