// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static dev.loadwitness.runlog.procedure.Parameters.PowerSteady.DEVIATION;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.criteria.rule.Soaks;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Spell;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.ThrottleTally;
import dev.loadwitness.reporter.scan.stage.WindowTrack.Window;
import dev.loadwitness.reporter.statistics.Cusum;
import dev.loadwitness.reporter.statistics.HampelIdentifier;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.List;

/**
 * Ten-second means of power that stand out from their stage, by the Hampel identifier and by a least deviation. Meant to
 * be advisory: a dip that coincides with a power brake or a hardware slowdown fails {@code throttle} anyway, and any other
 * may be the driver's own business.
 */
public final class PowerSteady implements Rule {
    private static final double FALSE_ALARM = 0.01;
    private static final int MOST_EVIDENCE = 5;

    @Override
    public Criterion criterion() {
        return Criterion.POWER_STEADY;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        return Rule.ofEach(
                run.chips(),
                setting,
                "No stage loaded a part whose power could be read.",
                part -> judge(setting, run, part));
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        double least = setting.share(DEVIATION);
        Limit limit = Limit.said("none beyond " + Texts.percent(least) + " of the median");
        String origin = setting.origin(DEVIATION);
        int judged = 0;
        int dips = 0;
        int peaks = 0;
        int changes = 0;
        boolean atBrake = false;
        double worst = 0;
        At first = null;
        List<Evidence> evidence = new ArrayList<>();
        for (StageTally stage : run.scan().stagesThatProve(part).toList()) {
            List<Window> windows = Soaks.settledPower(stage);
            if (windows.size() < HampelIdentifier.MINIMUM_COUNT) {
                continue;
            }
            judged += windows.size();
            double[] watts = windows.stream().mapToDouble(Window::meanWatts).toArray();
            HampelIdentifier usual = HampelIdentifier.of(FALSE_ALARM / 2, watts);
            for (Window w : windows) {
                if (!usual.standsOut(w.meanWatts(), least * usual.median())) {
                    continue;
                }
                double deviation = w.meanWatts() / usual.median() - 1;
                dips += deviation < 0 ? 1 : 0;
                peaks += deviation > 0 ? 1 : 0;
                boolean brake = deviation < 0 && heldBack(stage, w);
                atBrake |= brake;
                worst = Math.abs(deviation) > Math.abs(worst) ? deviation : worst;
                first = first == null ? w.at() : first;
                if (evidence.size() < MOST_EVIDENCE) {
                    evidence.add(Evidence.of(
                            w.at(),
                            Texts.number(w.meanWatts(), 0) + " W where " + Texts.number(usual.median(), 0)
                                    + " W is the middle of stage "
                                    + stage.stage().id()
                                    + (brake ? ", while it held itself back" : "")));
                }
            }
            if (watts.length >= Cusum.MINIMUM_COUNT) {
                Cusum.Change change = Cusum.forSeries(FALSE_ALARM / 2, least * usual.median(), watts)
                        .first(least * usual.median(), watts);
                if (change != null) {
                    changes++;
                    evidence.add(Evidence.of(
                            windows.get(change.first()).at(),
                            "from here on at about " + Texts.number(change.level(), 0) + " W where "
                                    + Texts.number(usual.median(), 0) + " W is the middle of stage "
                                    + stage.stage().id()));
                }
            }
        }
        if (judged == 0) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "The power of " + Texts.part(part)
                                    + " was not read, or not for long enough to tell what is usual.")
                    .against(limit, origin);
        }
        int found = dips + peaks;
        String level =
                changes == 0 ? "" : " Its level changed in " + (changes == 1 ? "one stage." : changes + " stages.");
        String because = (first == null
                        ? "None of " + judged + " ten-second means of the power of " + Texts.part(part)
                                + " stands out from its stage."
                        : "The power of " + Texts.part(part) + " " + times(dips, "dipped")
                                + (dips * peaks == 0 ? "" : " and ")
                                + times(peaks, "rose") + " for about ten seconds under a steady load, first at "
                                + first.clock() + ", by up to " + Texts.percent(Math.abs(worst))
                                + ": look at its power stages, and at what else ran then."
                                + (atBrake
                                        ? " It held itself back at a dip (power brake or hardware slowdown): throttle decides on"
                                                + " that."
                                        : ""))
                + level;
        return Finding.of(setting, part.word(), found + changes == 0 ? Outcome.PASS : Outcome.FAIL, because)
                .against(limit, origin)
                .measured(Value.said(found + " of " + judged
                        + (changes == 0 ? "" : ", " + changes + (changes == 1 ? " change" : " changes") + " of level")))
                .seen(evidence);
    }

    private static String times(int count, String did) {
        return count == 0 ? "" : did + (count == 1 ? " once" : " " + count + " times");
    }

    private static boolean heldBack(StageTally stage, Window w) {
        return stage.throttles().stream()
                .filter(t -> t.cause() == Cause.POWER_BRAKE || t.cause() == Cause.HARDWARE_SLOWDOWN)
                .map(ThrottleTally::spells)
                .flatMap(List::stream)
                .anyMatch((Spell s) -> s.overlaps(w.at().segment(), w.startSeconds(), w.seconds()));
    }
}
