// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import dev.loadwitness.reporter.scan.StageTally;
import dev.loadwitness.reporter.scan.WindowTrack.Window;
import dev.loadwitness.reporter.statistics.ConformityDecision;
import dev.loadwitness.reporter.statistics.CorrelatedMean;
import dev.loadwitness.reporter.statistics.UncertaintyBudget;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.Comparator;
import java.util.List;
import java.util.Optional;

/**
 * Verified work rate at the end of the longest stage that proves a part, as a share of that at its settled start. The
 * rate of work that was found right says what the clock did for the customer; under the ordinary power cap the clock
 * itself may sit below its base.
 *
 * <p>The start settles for a minute, or for a tenth of the stage if that is shorter. Where the stage is too short for
 * two windows of the length asked for, each is half of what is left. The uncertainty is that of the two means of
 * ten-second rates, inflated for their autocorrelation, with as many degrees of freedom as that leaves.
 */
final class ClockHeld implements Rule {
    private static final double SETTLE_SECONDS = 60;
    private static final double SETTLE_SHARE = 0.1;

    @Override
    public Criterion criterion() {
        return Criterion.CLOCK_HELD;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        if (run.parts().isEmpty()) {
            return List.of(
                    Finding.of(setting, "", Outcome.NOT_MEASURED, "No stage set out to prove a part under load."));
        }
        return run.parts().stream().map(part -> judge(setting, run, part)).toList();
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        String limit = "at least " + Texts.percent(setting.value("at-least"));
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
                    .against(limit, setting.origin("at-least"));
        }
        StageTally stage = longest.get();
        double settle = Math.min(SETTLE_SECONDS, SETTLE_SHARE * stage.seconds());
        List<Window> settled = stage.track().stream()
                .filter(w -> w.startSeconds() >= stage.begin().seconds() + settle)
                .toList();
        double length = Math.min(
                setting.value("window"),
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
                    .against(limit, setting.origin("at-least"));
        }
        CorrelatedMean before = rate(first);
        CorrelatedMean after = rate(last);
        double share = after.mean() / before.mean();
        Measured measured = Measured.share(
                ConformityDecision.Side.AT_LEAST,
                share,
                setting.value("at-least"),
                UncertaintyBudget.none()
                        .mean("rate at the settled start", before, share / before.mean())
                        .mean("rate at the end", after, 1 / before.mean()),
                run);
        Outcome outcome = measured.outcome();
        String rates = Texts.percent(share) + " of the settled start's rate over the last " + Texts.duration(length)
                + " of stage " + stage.stage().id();
        String because =
                switch (outcome) {
                    case PASS -> "Work on " + Texts.part(part) + " went on at " + rates + ".";
                    case FAIL ->
                        "Work on " + Texts.part(part) + " slowed to " + rates
                                + ": something holds it back as it warms.";
                    default ->
                        "Work on " + Texts.part(part) + " went on at " + rates + ", which scatters too much to decide."
                                + measured.settling(2 * length)
                                + " The parameter window must grow with it.";
                };
        return measured.on(Finding.of(setting, part.word(), outcome, because)
                .against(limit, setting.origin("at-least"))
                .measured(Texts.percent(share), signedPercent(share - setting.value("at-least")))
                .seen(List.of(
                        Evidence.of(first.get(0).at(), "first window begins"),
                        Evidence.of(last.get(0).at(), "last window begins"))));
    }

    private static CorrelatedMean rate(List<Window> windows) {
        return CorrelatedMean.of(windows.stream().mapToDouble(Window::rate).toArray());
    }

    private static String signedPercent(double fraction) {
        return (fraction >= 0 ? "+" : "") + Texts.percent(fraction);
    }
}
