// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static dev.loadwitness.runlog.procedure.Parameters.SoakDuration.AT_LEAST;
import static dev.loadwitness.runlog.procedure.Parameters.SoakDuration.POWER_SHARE;

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
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Collectors;

/**
 * The longest unbroken stretch under the demanded load. The part that the run proves longest must reach what the
 * procedure asks; parts with shorter stages must hold their own planned time, less two windows for the edges.
 */
public final class SoakDuration implements Rule {
    private static final double EDGES_SECONDS = 20;

    /** Of the time demanded: so little is lost at a stage's two ends (ours). */
    private static final double A_LITTLE = 0.01;

    @Override
    public Criterion criterion() {
        return Criterion.SOAK_DURATION;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        if (run.parts().isEmpty()) {
            return List.of(Finding.of(
                    setting, "", Outcome.NOT_MEASURED, "No stage of the run set out to prove a part under load."));
        }
        Map<Role, Double> planned =
                run.parts().stream().collect(Collectors.toMap(part -> part, part -> plannedSeconds(part, run.scan())));
        double longestPlan =
                planned.values().stream().mapToDouble(Double::doubleValue).max().orElse(0);
        List<Finding> findings = new ArrayList<>();
        for (Role part : run.parts()) {
            double plan = planned.getOrDefault(part, 0.0);
            boolean main = plan >= longestPlan;
            double asked = setting.seconds(AT_LEAST);
            double required = main ? asked : Math.min(asked, Math.max(0, plan - EDGES_SECONDS));
            String origin = main || required == asked ? setting.origin(AT_LEAST) : "procedure (its planned stages)";
            findings.add(judge(setting, run, part, required, origin));
        }
        return findings;
    }

    private static double plannedSeconds(Role part, Scan scan) {
        return scan.procedure().stages().stream()
                .filter(s -> s.proves().filter(part::equals).isPresent())
                .map(Stage::duration)
                .mapToDouble(d -> d.toNanos() / 1e9)
                .sum();
    }

    private static Finding judge(CriterionSetting setting, Case run, Role part, double required, String origin) {
        Limit limit = Limit.atLeast(Amount.time(required));
        if (!run.scan().has(part, Metric.WORK_VERIFIED)) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "The log has no verified work for " + Texts.part(part) + ".")
                    .against(limit, origin);
        }
        double share = setting.share(POWER_SHARE);
        QualifiedTime time = QualifiedTime.of(part, run, share);
        Reference reference = Reference.of(part, run.scan(), run.jobSheet());
        List<StageTally> rails =
                run.scan().stagesThatProve(part).filter(s -> !s.fullLoad()).toList();
        Optional<StageTally> idleRail = rails.stream()
                .filter(s -> QualifiedTime.workedSeconds(s, share)
                        < s.stage().duration().toNanos() / 1e9 - EDGES_SECONDS)
                .findFirst();
        Outcome held = outcome(time, required, run.scan(), part);
        Outcome outcome = held == Outcome.PASS && idleRail.isPresent() ? Outcome.INCONCLUSIVE : held;
        List<Evidence> evidence = new ArrayList<>();
        if (time.from() != null) {
            evidence.add(
                    Evidence.of(time.from(), "start of the longest stretch, " + Texts.duration(time.longestSeconds())));
        }
        if (time.brokenAt() != null) {
            evidence.add(Evidence.of(time.brokenAt(), time.brokenWhy()));
        }
        if (time.byPower()) {
            evidence.add(Evidence.named(
                    "counted",
                    "full load is " + Texts.number(share * reference.watts().orElseThrow(), 0) + " W or more, "
                            + Texts.percent(share) + " of "
                            + Texts.number(reference.watts().orElseThrow(), 0) + " W, " + reference.origin()
                            + "; it drew " + Texts.number(time.meanWatts(), 0) + " W on average"));
        }
        rails.forEach(stage -> evidence.add(Evidence.of(stage.begin(), rail(stage, part, share, reference))));
        String because = because(part, time, required, held, run)
                + idleRail.map(s -> " Stage " + s.stage().id() + " held its load for only "
                                + Texts.duration(QualifiedTime.workedSeconds(s, share)) + ", so its rail is not shown.")
                        .orElse("");
        return Finding.of(setting, part.word(), outcome, because)
                .against(limit, origin)
                // In tenths, rounded down, as it is told: so is what it lies from the limit.
                .measured(Value.of(Amount.time(Math.floor(time.longestSeconds() * 10) / 10)))
                .seen(evidence);
    }

    /** What a load of one rail showed: its work, and its watts beside those that would have counted. */
    private static String rail(StageTally stage, Role part, double share, Reference reference) {
        double watts = stage.meanWatts(part);
        return stage.stage().id() + ": " + Texts.duration(QualifiedTime.workedSeconds(stage, share))
                + " of verified work on one rail"
                + (Double.isNaN(watts)
                        ? ""
                        : " at " + Texts.number(watts, 0) + " W"
                                + (reference.watts().isEmpty()
                                        ? ""
                                        : " ("
                                                + Texts.percent(watts
                                                        / reference.watts().getAsDouble()) + ")"))
                + "; counts as soak only from the watts of a full load";
    }

    private static Outcome outcome(QualifiedTime time, double required, Scan scan, Role part) {
        if (time.longestSeconds() >= required) {
            return Outcome.PASS;
        }
        // Work alone cannot tell a machine that held itself back from one that was busy with something else; and a
        // run that somebody ended before its time has not shown that the machine cannot.
        boolean ranToItsEnd = scan.close()
                        .filter(c -> c.reason().equals(CloseReason.COMPLETED.word()))
                        .isPresent()
                && scan.procedure().stages().stream()
                        .filter(s -> s.proves().equals(Optional.of(part)))
                        .allMatch(s -> scan.stages().stream()
                                .anyMatch(ran -> ran.stage().id().equals(s.id())));
        return time.byPower() && (ranToItsEnd || time.brokenAt() != null) ? Outcome.FAIL : Outcome.INCONCLUSIVE;
    }

    private static String because(Role part, QualifiedTime time, double required, Outcome outcome, Case run) {
        StringBuilder text = new StringBuilder();
        String name = Texts.part(part);
        if (outcome == Outcome.PASS) {
            text.append("Full load on ").append(name).append(" was held for ");
            text.append(Texts.duration(time.longestSeconds())).append(" without a break");
        } else {
            text.append("Full load on ").append(name).append(" was there for ");
            text.append(Texts.duration(time.longestSeconds())).append(" of the ");
            text.append(Texts.duration(required)).append(" demanded");
            double missing = required - time.longestSeconds();
            if (time.brokenAt() != null) {
                text.append(": at ")
                        .append(time.brokenAt().clock())
                        .append(" it ")
                        .append(reason(time));
            } else if (missing > 0 && missing < A_LITTLE * required) {
                text.append(", ")
                        .append(Texts.number(missing, 1))
                        .append(" s short: give the stage a little more than it must hold");
            }
        }
        if (time.byPower()) {
            text.append('.');
            if (outcome == Outcome.FAIL && time.longestSeconds() == 0) {
                text.append(
                        " It was never under full load: look at the graphics mode, the adapter and the power limit.");
            }
        } else {
            text.append("; judged by work rate against its own best minute, since ");
            text.append(
                    run.scan().stagesThatProve(part).anyMatch(StageTally::powerReadable)
                            ? "no rated power and no power limit is known"
                            : "no power is readable");
            text.append('.');
        }
        return text.toString();
    }

    private static String reason(QualifiedTime time) {
        return time.brokenWhy().startsWith("work ") || time.brokenWhy().startsWith("no ")
                ? "broke off because " + time.brokenWhy()
                : time.brokenWhy();
    }
}
