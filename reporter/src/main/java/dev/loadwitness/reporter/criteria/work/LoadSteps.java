// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static dev.loadwitness.runlog.procedure.Parameters.LoadSteps.EDGE_SHARE;
import static dev.loadwitness.runlog.procedure.Parameters.LoadSteps.EDGE_TIME;
import static dev.loadwitness.runlog.procedure.Parameters.LoadSteps.LATE_EDGES;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.criteria.work.Switching.Followed;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.StepTally;
import dev.loadwitness.reporter.scan.stage.StepTally.Rate;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.LoadKind;
import java.util.List;
import java.util.Optional;

/** The load went on and off as commanded, by the worker's own time stamps of every edge, and the part took it. */
public final class LoadSteps implements Rule {
    /** Less than this share of the stage's time between first and last edges is a load that stopped (ours). */
    private static final double LEAST_TIME = 0.9;

    private static final int MOST_EVIDENCE = 20;

    @Override
    public Criterion criterion() {
        return Criterion.LOAD_STEPS;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        double most = setting.share(LATE_EDGES);
        Limit limit = Limit.said("each edge within " + Texts.percent(setting.share(EDGE_SHARE)) + " of its period or "
                + time(setting.seconds(EDGE_TIME)) + ", but " + Texts.percent(most));
        return Switching.judge(
                setting, run, LoadKind.GPU_STEPS, limit, setting.origin(EDGE_SHARE), stage -> followed(stage, most));
    }

    private static Followed followed(StageTally stage, double most) {
        StepTally steps = stage.steps();
        long edges = steps.rates().stream().mapToLong(Rate::edges).sum();
        long missing = steps.rates().stream().mapToLong(Rate::missing).sum();
        long late = steps.rates().stream().mapToLong(Rate::late).sum();
        double seconds = steps.rates().stream().mapToDouble(Rate::seconds).sum();
        double worst =
                steps.rates().stream().mapToDouble(Rate::worstSeconds).max().orElse(Double.NaN);
        Optional<String> why = Optional.empty();
        if (steps.unreadable() > 0) {
            why = Optional.of(steps.unreadable() + " records of edges cannot be read");
        } else if (missing + late > most * (edges + missing)) {
            why = Optional.of("of " + Texts.count(edges + missing) + " edges commanded " + Texts.count(missing)
                    + " are missing and " + Texts.count(late)
                    + " missed their moment");
        } else if (seconds < LEAST_TIME * stage.seconds()) {
            why = Optional.of(
                    "edges are there for only " + Texts.duration(seconds) + " of " + Texts.duration(stage.seconds()));
        }
        return new Followed(
                Texts.count(edges) + " edges, worst off by " + time(worst),
                why,
                edges == 0 && steps.unreadable() == 0,
                steps.rates().stream()
                        .limit(MOST_EVIDENCE)
                        .map(r -> Evidence.of(
                                r.at(),
                                "every " + time(r.periodSeconds()) + ", on for "
                                        + Texts.percent(r.duty()) + ": " + Texts.count(r.edges()) + " edges, "
                                        + Texts.count(r.missing())
                                        + " missing, " + Texts.count(r.late()) + " off by more than allowed, worst by "
                                        + time(r.worstSeconds())))
                        .toList());
    }

    private static String time(double seconds) {
        return seconds < 1 ? Texts.number(1000 * seconds, 1) + " ms" : Texts.duration(seconds);
    }
}
