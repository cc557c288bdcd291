// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static dev.loadwitness.runlog.procedure.Parameters.Charging.CHARGE_BELOW;
import static dev.loadwitness.runlog.procedure.Parameters.Charging.DRAIN_PER_HOUR;
import static dev.loadwitness.runlog.procedure.Parameters.Charging.GAINED;

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
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.machine.SupplyTally;
import dev.loadwitness.reporter.scan.machine.SupplyTally.Battery;
import dev.loadwitness.reporter.scan.machine.SupplyTally.InStage;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.LoadKind;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;

/**
 * The adapter never lets go, carries the load of one chip without the battery's help, and the battery charges at idle
 * where it is due. What the battery gives while everything is loaded at once is reported.
 */
public final class Charging implements Rule {
    /** Firmware that tells only where it ends charging begins again this far below (from memory, common practice). */
    private static final double PAUSE = 0.05;

    private static final double SECONDS_PER_HOUR = 3600;

    @Override
    public Criterion criterion() {
        return Criterion.CHARGING;
    }

    /** One of the three questions. */
    private record Answer(Outcome outcome, String text) {}

    /** The charge that one battery lost in one stage, as shares of full an hour. */
    private record Drain(StageTally stage, double seconds, double perHour, Measured measured) {
        boolean alone() {
            return !(stage.stage().loads().contains(LoadKind.CPU)
                    && stage.stage().gpu().isPresent());
        }

        boolean discreteAlone() {
            return alone() && stage.stage().gpu().equals(Optional.of(Role.GPU_DISCRETE));
        }

        String text() {
            return (perHour < 0 ? "gained " : "lost ") + Texts.number(Math.abs(100 * perHour), 1)
                    + " points of charge an hour (" + measured.expanded() + " uncertain) in stage "
                    + stage.stage().id();
        }
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        SupplyTally supply = run.scan().supply();
        if (!supply.adapterAnswered()) {
            return notMeasured(setting, "Nothing tells whether the adapter feeds the machine.");
        }
        if (!supply.adapterFed()) {
            return notMeasured(setting, "The adapter never fed the machine: the run was on battery.");
        }
        List<Battery> batteries =
                supply.batteries().stream().filter(b -> !b.stages().isEmpty()).toList();
        if (batteries.isEmpty()) {
            return notMeasured(
                    setting,
                    "No battery's charge was read on mains. If none is fitted, say so on the job sheet under"
                            + " not-applicable.");
        }
        List<Evidence> evidence = new ArrayList<>();
        List<Drain> drains = drains(setting, run, batteries);
        drains.forEach(d -> evidence.add(
                Evidence.of(d.stage.begin(), (d.alone() ? "" : "everything loaded, reported only: ") + d.text())));
        Optional<Drain> main = main(drains);
        List<Answer> answers = List.of(adapter(supply, evidence), drain(drains, main), idle(setting, run, batteries));
        Answer worst = answers.stream()
                .max(Comparator.comparingInt(a -> rank(a.outcome)))
                .orElseThrow();
        String because = worst.outcome == Outcome.PASS
                ? String.join(" ", answers.stream().map(Answer::text).toList())
                : worst.text;
        Finding finding = Finding.of(setting, "", worst.outcome, because)
                .against(
                        new Limit.End(
                                Limit.Side.AT_MOST,
                                Amount.pointsPerHour(setting.share(DRAIN_PER_HOUR)),
                                "adapter always on; ",
                                " lost"),
                        setting.origin(DRAIN_PER_HOUR))
                .seen(evidence);
        if (main.isEmpty()) {
            return List.of(finding);
        }
        Drain d = main.get();
        return List.of(d.measured.on(finding.measured(new Value.Single(
                Amount.pointsPerHour(d.perHour), Value.Sign.NONE, "", d.perHour < 0 ? " gained" : " lost"))));
    }

    private static List<Finding> notMeasured(CriterionSetting setting, String because) {
        return List.of(Finding.of(setting, "", Outcome.NOT_MEASURED, because));
    }

    private static int rank(Outcome outcome) {
        return outcome == Outcome.FAIL ? 2 : outcome == Outcome.PASS ? 0 : 1;
    }

    private static Answer adapter(SupplyTally supply, List<Evidence> evidence) {
        if (supply.askedDrops() > 0) {
            evidence.add(Evidence.named(
                    "", "pulled " + supply.askedDrops() + " times when a person was asked to: not counted"));
        }
        At first = supply.firstDrop();
        if (first == null) {
            return new Answer(Outcome.PASS, "The adapter fed the machine throughout.");
        }
        evidence.add(0, Evidence.of(first, "adapter off"));
        return new Answer(
                Outcome.FAIL,
                "The adapter stopped feeding the machine "
                        + (supply.drops() == 1 ? "" : supply.drops() + " times, first ")
                        + "at " + first.clock()
                        + ", and nobody had been asked to pull it: look at the adapter, its plug, the power jack and the"
                        + " charging circuit; if it was unplugged by hand, run again.");
    }

    private static List<Drain> drains(CriterionSetting setting, Case run, List<Battery> batteries) {
        List<Drain> drains = new ArrayList<>();
        for (Battery battery : batteries) {
            for (InStage in : battery.stages()) {
                StageTally stage = run.scan().stages().get(in.stage());
                if (stage.stage().loads().isEmpty() || in.seconds() <= 0) {
                    continue;
                }
                double hours = in.seconds() / SECONDS_PER_HOUR;
                double perHour = (in.first() - in.last()) / hours;
                drains.add(new Drain(
                        stage,
                        in.seconds(),
                        perHour,
                        Measured.of(
                                ConformityDecision.Side.AT_MOST,
                                perHour,
                                setting.share(DRAIN_PER_HOUR),
                                twoReadings(battery.step() / hours),
                                run,
                                Unit.POINTS_PER_HOUR)));
            }
        }
        return drains;
    }

    /** The difference of two readings, each anywhere within one step. */
    private static UncertaintyBudget twoReadings(double step) {
        return UncertaintyBudget.none()
                .rounded("steps of the charge, first reading", step)
                .rounded("steps of the charge, last reading", step);
    }

    /** The longest stage of the discrete GPU alone; where there is none, of any one chip alone. */
    private static Optional<Drain> main(List<Drain> drains) {
        return drains.stream()
                .filter(Drain::alone)
                .max(Comparator.comparing(Drain::discreteAlone)
                        .thenComparingDouble(Drain::seconds)
                        .thenComparingDouble(Drain::perHour));
    }

    private static Answer drain(List<Drain> drains, Optional<Drain> main) {
        if (main.isEmpty()) {
            return new Answer(
                    Outcome.INCONCLUSIVE,
                    "No stage loaded one chip alone on mains: whether the adapter carries it was not shown.");
        }
        Optional<Drain> lost = drains.stream()
                .filter(Drain::alone)
                .filter(d -> d.measured.outcome() == Outcome.FAIL)
                .max(Comparator.comparingDouble(Drain::perHour));
        if (lost.isPresent()) {
            return new Answer(
                    Outcome.FAIL,
                    "Plugged in, the battery " + lost.get().text()
                            + ": the adapter does not carry the load. Look at the adapter's rating, its identification and"
                            + " the charger.");
        }
        Drain d = main.get();
        return d.measured.outcome() == Outcome.PASS
                ? new Answer(Outcome.PASS, "The battery " + d.text() + ".")
                : new Answer(
                        Outcome.INCONCLUSIVE,
                        "The battery " + d.text() + ": its charge moves in steps too coarse for "
                                + Texts.duration(d.seconds) + " to tell more.");
    }

    private static Answer idle(CriterionSetting setting, Case run, List<Battery> batteries) {
        boolean any = false;
        boolean seen = false;
        boolean due = false;
        boolean firmwareSays = false;
        double threshold = Double.NaN;
        double best = Double.NEGATIVE_INFINITY;
        double step = 0;
        for (Battery battery : batteries) {
            boolean told = !Double.isNaN(battery.start()) || !Double.isNaN(battery.end());
            double below = !Double.isNaN(battery.start())
                    ? battery.start()
                    : told ? battery.end() - PAUSE : setting.share(CHARGE_BELOW);
            double gained = 0;
            for (InStage in : battery.stages()) {
                if (!run.scan().stages().get(in.stage()).stage().loads().isEmpty()) {
                    continue;
                }
                any = true;
                gained += in.last() - in.first();
                seen |= in.charging() || in.last() - in.first() > 1.5 * battery.step();
                if (in.first() < below && !due) {
                    due = true;
                    firmwareSays = told;
                }
            }
            threshold = below;
            if (gained > best) {
                best = gained;
                step = battery.step();
            }
        }
        if (!any) {
            return new Answer(
                    Outcome.INCONCLUSIVE,
                    "No stage without load ran on mains: whether the battery charges was not shown.");
        }
        if (due && !seen) {
            return firmwareSays
                    ? new Answer(
                            Outcome.FAIL,
                            "At idle on mains the battery did not charge, although it was below the firmware's own"
                                    + " threshold of " + Texts.percent(threshold)
                                    + ": look at the charger, the battery's connector and its data lines.")
                    : new Answer(
                            Outcome.INCONCLUSIVE,
                            "At idle on mains the battery did not charge below " + Texts.percent(threshold)
                                    + "; the firmware does not say from where it charges, and may hold it back by itself."
                                    + " Turn its battery care off and run again.");
        }
        double wanted = setting.share(GAINED);
        boolean enough = wanted <= 0
                || Measured.of(ConformityDecision.Side.AT_LEAST, best, wanted, twoReadings(step), run, Unit.PERCENT)
                                .outcome()
                        == Outcome.PASS;
        if (!enough) {
            return new Answer(
                    Outcome.INCONCLUSIVE,
                    "The stages without load added " + Texts.number(100 * best, 1) + " points of charge, and "
                            + Texts.number(100 * wanted, 1)
                            + " are asked for: begin with the battery lower, or give it longer.");
        }
        return new Answer(
                Outcome.PASS,
                seen
                        ? "It charged at idle."
                        : "It did not charge at idle, nor was it due to: charging itself was not shown.");
    }
}
