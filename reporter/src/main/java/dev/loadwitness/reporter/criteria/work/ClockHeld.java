// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static dev.loadwitness.runlog.procedure.Parameters.ClockHeld.AT_LEAST;
import static dev.loadwitness.runlog.procedure.Parameters.ClockHeld.WINDOW;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Held;
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
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.ThrottleTally;
import dev.loadwitness.reporter.scan.stage.WindowTrack.Window;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.CorrelatedMean;
import dev.loadwitness.reporter.statistics.Cusum;
import dev.loadwitness.reporter.statistics.Quantiles;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.Arrays;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;
import java.util.stream.Collectors;

/**
 * Verified work rate at the end of the longest stage that proves a part, as a share of that at its settled start. The
 * rate of work that was found right says what the clock did for the customer; under the ordinary power cap the clock
 * itself may sit below its base.
 *
 * <p>Where the part was faster later on, and not only then, that level stands in for the start's: a part that is held back
 * again and again slows its start as much as its end. Where throttle channels tell that the start was held back, a rate that
 * was kept shows nothing.
 *
 * <p>The start settles for a minute, or for a tenth of the stage if that is shorter. Where the stage is too short for
 * two windows of the length asked for, each is half of what is left. The uncertainty is that of the two means of
 * ten-second rates, inflated for their autocorrelation, with as many degrees of freedom as that leaves.
 */
public final class ClockHeld implements Rule {
    private static final double SETTLE_SECONDS = 60;
    private static final double SETTLE_SHARE = 0.1;

    private static final double UPPER_QUANTILE = 0.9;

    /** By less than this a later level is no other level, but the scatter of its estimate (ours). */
    private static final double FASTER = 0.02;

    /** Of the first window; so much throttling in it cannot hide in the tolerance (ours). */
    private static final double HELD_BACK_SHARE = 0.05;

    @Override
    public Criterion criterion() {
        return Criterion.CLOCK_HELD;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        return Rule.ofEach(
                run.parts(),
                setting,
                "No stage set out to prove a part under load.",
                part -> judge(setting, run, part));
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        Limit limit = Limit.atLeast(Amount.percent(setting.share(AT_LEAST)));
        Optional<StageTally> longest = run.scan()
                .stagesThatProve(part)
                .filter(s -> s.verifiedWork() > 0)
                .max(Comparator.comparingDouble(StageTally::seconds));
        if (longest.isEmpty() || !run.scan().has(part, Metric.WORK_VERIFIED)) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "No verified work was done on " + Texts.part(part) + ".")
                    .against(limit, setting.origin(AT_LEAST));
        }
        StageTally stage = longest.get();
        double settle = Math.min(SETTLE_SECONDS, SETTLE_SHARE * stage.seconds());
        List<Window> settled = stage.track().stream()
                .filter(w -> w.startSeconds() >= stage.begin().seconds() + settle)
                .toList();
        double length = Math.min(
                setting.seconds(WINDOW),
                settled.stream().mapToDouble(Window::seconds).sum() / 2);
        List<Window> first = settled.stream()
                .filter(w -> w.endSeconds() <= settled.get(0).startSeconds() + length * 1.001)
                .toList();
        List<Window> last = settled.stream()
                .filter(w -> w.startSeconds() >= settled.get(settled.size() - 1).endSeconds() - length * 1.001)
                .toList();
        if (first.size() < CorrelatedMean.MINIMUM_COUNT || last.size() < CorrelatedMean.MINIMUM_COUNT) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "Stage " + stage.stage().id() + " is too short to compare its end with its start.")
                    .against(limit, setting.origin(AT_LEAST));
        }
        CorrelatedMean before = rate(first);
        CorrelatedMean after = rate(last);
        Later later = Later.of(settled, first);
        boolean fasterLater = later.best() > (1 + FASTER) * before.mean();
        if (fasterLater) {
            before = later.mean(before);
        }
        double share = after.mean() / before.mean();
        Measured measured = Measured.of(
                ConformityDecision.Side.AT_LEAST,
                share,
                setting.share(AT_LEAST),
                UncertaintyBudget.none()
                        .mean("rate at the settled start", before, share / before.mean())
                        .mean("rate at the end", after, 1 / before.mean()),
                run,
                Unit.PERCENT);
        Outcome outcome = measured.outcome();
        // A level that was reached later needs no start to be measured against.
        Optional<String> doubt = fasterLater ? Optional.empty() : heldBackAtTheStart(stage, first);
        if (outcome == Outcome.PASS && doubt.isPresent()) {
            outcome = Outcome.INCONCLUSIVE;
        }
        String than = fasterLater ? "the best that it held after its start" : "the settled start's rate";
        String rates = Texts.percent(share) + " of " + than + " over the last " + Texts.duration(length) + " of stage "
                + stage.stage().id();
        String because =
                switch (outcome) {
                    case PASS -> "Work on " + Texts.part(part) + " went on at " + rates + ".";
                    case FAIL ->
                        "Work on " + Texts.part(part) + " slowed to " + rates
                                + (fasterLater
                                        ? ": something holds it back again and again."
                                        : ": something holds it back as it warms.");
                    default ->
                        "Work on " + Texts.part(part) + " went on at " + rates
                                + doubt.orElse(", which scatters too much to decide"
                                        + heldBack(stage)
                                                .orElseGet(() -> "." + measured.settling(2 * length)
                                                        + " The parameter window must grow with it."));
                };
        return measured.on(Finding.of(setting, part.word(), outcome, because)
                .against(limit, setting.origin(AT_LEAST))
                .measured(Value.of(Amount.percent(share)))
                .seen(List.of(
                        Evidence.of(first.get(0).at(), "first window begins"),
                        Evidence.of(last.get(0).at(), "last window begins"))));
    }

    /** More time settles mere scatter; what holds the part back again and again it only repeats. */
    private static Optional<String> heldBack(StageTally stage) {
        String causes = Held.DEFECTS.stream()
                .filter(cause -> stage.throttles().stream().anyMatch(t -> t.cause() == cause && t.episodes() > 0))
                .map(cause -> cause.word().replace('-', ' '))
                .collect(Collectors.joining(", "));
        return causes.isEmpty()
                ? Optional.empty()
                : Optional.of(", because the part was held back meanwhile (" + causes
                        + "). A longer run settles nothing: mend that first.");
    }

    /** Where the start itself was held back, having kept its rate shows nothing. */
    private static Optional<String> heldBackAtTheStart(StageTally stage, List<Window> first) {
        double seconds = first.stream().mapToDouble(Window::seconds).sum();
        for (Cause cause : Held.DEFECTS) {
            for (ThrottleTally t : stage.throttles()) {
                double held = t.cause() != cause
                        ? 0
                        : first.stream()
                                .filter(w -> t.spells().stream()
                                        .anyMatch(s -> s.overlaps(w.at().segment(), w.startSeconds(), w.seconds())))
                                .mapToDouble(Window::seconds)
                                .sum();
                if (held > HELD_BACK_SHARE * seconds) {
                    return Optional.of("; but that start was itself held back ("
                            + cause.word().replace('-', ' ') + ", in "
                            + Texts.duration(held) + " of " + Texts.duration(seconds)
                            + "), so that it shows nothing.");
                }
            }
        }
        return Optional.empty();
    }

    /**
     * The level that the rate was at, and left again, after the first window: its upper tenth, less what mere scatter
     * would lift that by. A level rate gives its own mean. What is faster only at the start gives no level here.
     */
    private record Later(double best) {
        static Later of(List<Window> settled, List<Window> first) {
            double[] inOrder = settled.stream()
                    .skip(first.size())
                    .mapToDouble(Window::rate)
                    .toArray();
            double[] rates = inOrder.clone();
            Arrays.sort(rates);
            int rank = (int) Math.ceil(UPPER_QUANTILE * rates.length) - 1;
            double scatter = Quantiles.normal(UPPER_QUANTILE) * Cusum.neighbourDeviation(inOrder);
            return new Later(rates[rank] - scatter);
        }

        /** In place of the first window's mean; its scatter is as good an estimate as any for this one's. */
        CorrelatedMean mean(CorrelatedMean start) {
            return new CorrelatedMean(
                    start.count(),
                    best,
                    start.standardDeviation(),
                    start.lagOne(),
                    start.effectiveCount(),
                    start.standardError());
        }
    }

    private static CorrelatedMean rate(List<Window> windows) {
        return CorrelatedMean.of(windows.stream().mapToDouble(Window::rate).toArray());
    }
}
