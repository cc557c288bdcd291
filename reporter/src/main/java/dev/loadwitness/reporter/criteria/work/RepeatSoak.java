// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static dev.loadwitness.runlog.procedure.Parameters.RepeatSoak.AT_MOST;
import static dev.loadwitness.runlog.procedure.Parameters.RepeatSoak.COLD_BELOW;
import static dev.loadwitness.runlog.procedure.Parameters.RepeatSoak.SAME_POWER;

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
import dev.loadwitness.reporter.scan.machine.AskTally;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.StageTemperature;
import dev.loadwitness.reporter.scan.stage.WindowTrack.Window;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.CorrelatedMean;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.function.ToDoubleFunction;

/**
 * The end of a second soak from cold against the end of the first: pads settle and paste is pumped out with the first hot hour.
 *
 * <p>The first is the longest earlier stage with the same loads that proves the same part. Of both the last ten minutes are
 * compared, or the last fifth of the shorter if that is less.
 */
public final class RepeatSoak implements Rule {
    private static final double TAIL_SECONDS = 600;
    private static final double TAIL_SHARE = 0.2;

    /** A reading in whole kelvins, where the resolution is unknown. */
    private static final double RESOLUTION_KELVIN = 1;

    /** A change between both halves of a tail of more than this share of the limit is no plateau (common practice). */
    private static final double DRIFT_SHARE = 0.5;

    @Override
    public Criterion criterion() {
        return Criterion.REPEAT_SOAK;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        List<Role> parts = run.scan().procedure().stages().stream()
                .filter(s -> s.asks().equals(Optional.of(Ask.COOL_DOWN)))
                .flatMap(s -> s.proves().stream())
                .distinct()
                .toList();
        if (parts.isEmpty()) {
            return List.of(Finding.of(
                    setting, "", Outcome.NOT_MEASURED, "No stage soaked a part a second time after it had cooled."));
        }
        return parts.stream().map(part -> judge(setting, run, part)).toList();
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        Optional<AskTally> cooled = run.scan().asks().stream()
                .filter(a -> a.what() == Ask.COOL_DOWN)
                .filter(a -> run.scan().procedure().stages().stream()
                        .anyMatch(s -> s.id().equals(a.stage()) && s.proves().equals(Optional.of(part))))
                .reduce((a, b) -> b);
        Optional<StageTally> second = cooled.filter(a -> a.done().isPresent())
                .flatMap(a -> run.scan()
                        .stagesThatProve(part)
                        .filter(s -> s.stage().id().equals(a.stage()) && s.completed())
                        .reduce((x, y) -> y));
        Optional<StageTally> first = second.flatMap(s -> run.scan()
                .stagesThatProve(part)
                .takeWhile(f -> !f.begin().equals(s.begin()))
                .filter(f -> f.completed() && f.stage().loads().equals(s.stage().loads()))
                .max(Comparator.comparingDouble(StageTally::seconds)));
        if (first.isEmpty()) {
            String why = cooled.filter(a -> a.done().isEmpty())
                    .map(a -> a.leftOut().isEmpty() ? "it was never seen to cool" : "left out: " + a.leftOut())
                    .orElse("it, or the first, did not run to its end");
            return unmeasured(setting, part, "The second soak of " + Texts.part(part) + " is not there: " + why + ".");
        }
        double tail = Math.min(
                TAIL_SECONDS,
                TAIL_SHARE * Math.min(first.get().seconds(), second.get().seconds()));
        List<Pair> pairs = pairs(first.get(), second.get(), tail, cooled.get());
        if (pairs.isEmpty()) {
            return unmeasured(
                    setting,
                    part,
                    "No temperature of " + Texts.part(part) + " was read at the end of both soaks for long enough ("
                            + CorrelatedMean.MINIMUM_COUNT + " means of ten seconds).");
        }
        Pair worst =
                pairs.stream().max(Comparator.comparingDouble(Pair::difference)).orElseThrow();
        return judge(setting, run, part, first.get(), second.get(), tail, worst);
    }

    private static Finding unmeasured(CriterionSetting setting, Role part, String because) {
        return Finding.of(setting, part.word(), Outcome.NOT_MEASURED, because)
                .against(limit(setting), setting.origin(AT_MOST));
    }

    private static Limit limit(CriterionSetting setting) {
        return new Limit.End(Limit.Side.AT_MOST, Amount.kelvin(setting.kelvin(AT_MOST)), "", " hotter");
    }

    /**
     * One temperature at the end of both soaks.
     *
     * @param driftKelvin the larger change between the halves of either
     */
    private record Pair(
            String channel,
            double resolution,
            CorrelatedMean before,
            CorrelatedMean after,
            double driftKelvin,
            double startCelsius) {
        double difference() {
            return after.mean() - before.mean();
        }

        UncertaintyBudget budget() {
            String steps = "steps of " + Texts.plain(resolution) + " K, ";
            return UncertaintyBudget.none()
                    .rounded(steps + "first soak", resolution)
                    .rounded(steps + "second soak", resolution)
                    .mean("mean of the first soak's end", before, 1)
                    .mean("mean of the second soak's end", after, 1);
        }
    }

    /** Mean of the later half less that of the earlier. */
    private static double drift(double[] tail) {
        int half = tail.length / 2;
        double change = 0;
        for (int i = 0; i < half; i++) {
            change += (tail[tail.length - 1 - i] - tail[i]) / half;
        }
        return change;
    }

    private static List<Pair> pairs(StageTally first, StageTally second, double tail, AskTally cooled) {
        List<Pair> pairs = new ArrayList<>();
        for (StageTemperature after : second.temperatures()) {
            String id = after.channel().id();
            Optional<StageTemperature> before = first.temperatures().stream()
                    .filter(t -> t.channel().id().equals(id))
                    .findFirst();
            double[] end = end(after, second, tail);
            double[] start = before.map(t -> end(t, first, tail)).orElse(new double[0]);
            if (end.length >= CorrelatedMean.MINIMUM_COUNT && start.length >= CorrelatedMean.MINIMUM_COUNT) {
                double resolution = after.channel().resolution();
                pairs.add(new Pair(
                        id,
                        resolution > 0 ? resolution : RESOLUTION_KELVIN,
                        CorrelatedMean.of(start),
                        CorrelatedMean.of(end),
                        Math.max(Math.abs(drift(start)), Math.abs(drift(end))),
                        cooled.celsius().getOrDefault(id, Double.NaN)));
            }
        }
        return pairs;
    }

    private static double[] end(StageTemperature temperature, StageTally stage, double tail) {
        return temperature.between(stage.seconds() - tail, stage.seconds());
    }

    private static Finding judge(
            CriterionSetting setting,
            Case run,
            Role part,
            StageTally first,
            StageTally second,
            double tail,
            Pair pair) {
        double most = setting.kelvin(AT_MOST);
        Measured measured =
                Measured.of(ConformityDecision.Side.AT_MOST, pair.difference(), most, pair.budget(), run, Unit.KELVIN);
        Optional<String> unlike = unlike(setting, first, second, tail, pair);
        Outcome outcome = unlike.isPresent() ? Outcome.INCONCLUSIVE : measured.outcome();
        String difference =
                Texts.number(Math.abs(pair.difference()), 1) + " K " + (pair.difference() >= 0 ? "hotter" : "cooler");
        String plateaus = "the second soak of " + Texts.part(part) + " ended " + difference + " than the first ("
                + Texts.number(pair.after().mean(), 1) + " against "
                + Texts.number(pair.before().mean(), 1) + " °C)";
        String because = unlike.map(why -> Texts.sentenceCase(plateaus) + ", but " + why + ".")
                .orElse(
                        switch (outcome) {
                            case PASS -> Texts.sentenceCase(plateaus) + ".";
                            case FAIL ->
                                Texts.sentenceCase(plateaus)
                                        + ": look at pads, paste and the heatsink's pressure, which settle with heat.";
                            default ->
                                Texts.sentenceCase(plateaus) + ", too near to the limit to decide within "
                                        + measured.expanded() + ".";
                        });
        return measured.on(Finding.of(setting, part.word(), outcome, because)
                .against(limit(setting), setting.origin(AT_MOST))
                .measured(Value.change(Amount.kelvin(pair.difference())))
                .seen(List.of(
                        Evidence.of(
                                first.begin(),
                                first.stage().id() + ": " + pair.channel() + " "
                                        + Texts.number(pair.before().mean(), 1) + " °C over its last "
                                        + Texts.duration(Math.rint(tail))),
                        Evidence.of(
                                second.begin(),
                                second.stage().id() + ": "
                                        + Texts.number(pair.after().mean(), 1) + " °C, begun at "
                                        + Texts.number(pair.startCelsius(), 1) + " °C"),
                        Evidence.named(
                                "room",
                                "its temperature was taken once at most: a change between the soaks moves the second by as"
                                        + " much"))));
    }

    /** Why the two cannot be compared; empty if they can. */
    private static Optional<String> unlike(
            CriterionSetting setting, StageTally first, StageTally second, double tail, Pair pair) {
        if (!(pair.startCelsius() < setting.celsius(COLD_BELOW))) {
            return Optional.of(
                    "the second did not begin below " + Texts.number(setting.celsius(COLD_BELOW), 0) + " °C");
        }
        boolean power = !Double.isNaN(mean(first, tail, Window::meanWatts))
                && !Double.isNaN(mean(second, tail, Window::meanWatts));
        ToDoubleFunction<Window> effort = power ? Window::meanWatts : Window::rate;
        double share = mean(second, tail, effort) / mean(first, tail, effort);
        if (!(Math.abs(share - 1) <= setting.share(SAME_POWER))) {
            return Optional.of("at " + Texts.percent(share) + " of its " + (power ? "power" : "work rate")
                    + ", which is another load");
        }
        if (pair.driftKelvin() > DRIFT_SHARE * setting.kelvin(AT_MOST)) {
            return Optional.of("one of them had not levelled off: it changed by " + Texts.number(pair.driftKelvin(), 1)
                    + " K between the halves of its last " + Texts.duration(Math.rint(tail)));
        }
        if (pair.difference() < -setting.kelvin(AT_MOST)) {
            return Optional.of("something else changed: the room, the fans or how it stood");
        }
        return Optional.empty();
    }

    private static double mean(StageTally stage, double tail, ToDoubleFunction<Window> value) {
        return stage.track().stream()
                .filter(w -> w.endSeconds() > stage.end().seconds() - tail)
                .mapToDouble(value)
                .average()
                .orElse(Double.NaN);
    }
}
