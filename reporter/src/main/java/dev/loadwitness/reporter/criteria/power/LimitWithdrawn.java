// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.power;

import static dev.loadwitness.runlog.procedure.Parameters.LimitWithdrawn.TOLERANCE;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Reference;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.reporter.scan.machine.PowerLimitTally;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.WindowTrack.Window;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.stream.Collectors;

/** The power limit never falls below its reference while on mains. */
public final class LimitWithdrawn implements Rule {
    private static final int MOST_EVIDENCE = 5;
    private static final int LAST_EVENTS = 3;

    @Override
    public Criterion criterion() {
        return Criterion.LIMIT_WITHDRAWN;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        List<Role> parts = run.parts().stream()
                .filter(p -> p == Role.GPU_DISCRETE || p == Role.GPU_INTEGRATED || p == Role.CPU)
                .toList();
        return Rule.ofEach(
                parts,
                setting,
                "No stage loaded a part that has a power limit of its own.",
                part -> judge(setting, run, part));
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part) {
        Optional<PowerLimitTally> shown = run.scan().powerLimit(part);
        if (shown.isEmpty()) {
            String missing = run.scan().has(part, Metric.POWER_LIMIT)
                    ? "No power limit of " + Texts.part(part) + " was read while on mains."
                    : "The log has no power limit for " + Texts.part(part) + ".";
            return Finding.of(setting, part.word(), Outcome.NOT_MEASURED, missing);
        }
        Reference fixed = Reference.of(part, run.scan(), run.jobSheet());
        double reference = fixed.watts().orElseThrow();
        double floor = reference * (1 - setting.share(TOLERANCE));
        double seconds = 0;
        double lowest = Double.POSITIVE_INFINITY;
        At first = null;
        List<Evidence> evidence = new ArrayList<>();
        for (StageTally stage : run.scan().stagesThatProve(part).toList()) {
            for (Window w : stage.track()) {
                double limit = w.lowestLimitOnMainsWatts();
                if (Double.isNaN(limit)) {
                    continue;
                }
                lowest = Math.min(lowest, limit);
                if (limit < floor) {
                    seconds += w.seconds();
                    if (first == null) {
                        first = w.at();
                        evidence.add(Evidence.of(w.at(), "limit " + Texts.number(limit, 0) + " W on mains"));
                        preceded(run.scan(), w, evidence);
                    }
                }
            }
        }
        run.scan()
                .events(EventKind.LIMIT_CHANGED)
                .limit(MOST_EVIDENCE)
                .forEach(e -> evidence.add(Evidence.of(
                        e.at(),
                        e.event().text("channel") + " from "
                                + Texts.number(e.event().number("from"), 0) + " to "
                                + Texts.number(e.event().number("to"), 0))));
        if (Double.isInfinite(lowest)) {
            return Finding.of(
                    setting,
                    part.word(),
                    Outcome.NOT_MEASURED,
                    "No power limit of " + Texts.part(part) + " was read on mains while it was loaded.");
        }
        String because = first == null
                ? "The power limit of " + Texts.part(part) + " stayed at " + Texts.number(lowest, 0)
                        + " W or above while on mains."
                : "The power limit of " + Texts.part(part) + " fell to " + Texts.number(lowest, 0) + " W of "
                        + Texts.number(reference, 0) + " W while on mains, from " + first.clock() + " for "
                        + Texts.duration(seconds)
                        + " of load: an adapter that is not recognised, a power brake, or the firmware's own"
                        + " decision.";
        return Finding.of(setting, part.word(), first == null ? Outcome.PASS : Outcome.FAIL, because)
                .against(Limit.atLeast(Amount.watts(floor)), fixed.origin())
                .measured(Value.of(Amount.watts(lowest)))
                .seen(evidence);
    }

    /** The last events before the end of the window in which it fell: adapter, brake, hot plug, a person. */
    private static void preceded(Scan scan, Window fell, List<Evidence> evidence) {
        List<NotedEvent> before = scan.events().stream()
                .filter(e -> e.at().segment() == fell.at().segment())
                .filter(e -> e.at().seconds() <= fell.endSeconds())
                .toList();
        before.stream()
                .skip(Math.max(0, before.size() - LAST_EVENTS))
                .forEach(e -> evidence.add(Evidence.of(
                        e.at(),
                        "before it: " + e.event().kind()
                                + e.event().facts().entrySet().stream()
                                        .map(f -> " " + f.getKey() + " " + value(f.getValue()))
                                        .collect(Collectors.joining(",")))));
    }

    private static String value(Object fact) {
        return fact instanceof Double number ? Texts.number(number, 1) : fact.toString();
    }
}
