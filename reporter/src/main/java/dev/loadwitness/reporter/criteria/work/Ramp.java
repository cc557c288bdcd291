// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import static dev.loadwitness.runlog.procedure.Parameters.Ramp.LATENESS;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.criteria.work.Switching.Followed;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.reporter.scan.stage.StepTally.Level;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.LoadKind;
import java.util.List;
import java.util.Optional;

/** The load went through 25, 50, 75 and 100 % and down again, each level in time, and the part took it. */
public final class Ramp implements Rule {
    private static final List<Double> LEVELS = List.of(0.25, 0.5, 0.75, 1.0);

    /** A level this close to one of the ramp's is that one. */
    private static final double SAME_LEVEL = 0.05;

    private static final int MOST_EVIDENCE = 5;

    @Override
    public Criterion criterion() {
        return Criterion.RAMP;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        double lateness = setting.seconds(LATENESS);
        return Switching.judge(
                setting,
                run,
                LoadKind.GPU_RAMP,
                Limit.said("each level within " + Texts.duration(lateness)),
                setting.origin(LATENESS),
                stage -> followed(stage, lateness));
    }

    private static Followed followed(StageTally stage, double lateness) {
        List<Level> levels = stage.steps().levels();
        List<Level> late =
                levels.stream().filter(l -> !(l.lateSeconds() <= lateness)).toList();
        String missing = LEVELS.stream()
                .filter(wanted -> levels.stream().noneMatch(l -> is(l, wanted)))
                .map(wanted -> Texts.number(100 * wanted, 0) + " %")
                .reduce((a, b) -> a + ", " + b)
                .orElse("");
        Optional<String> why = Optional.empty();
        if (!missing.isEmpty()) {
            why = Optional.of("the load never went to " + missing + " of full load");
        } else if (!cameDown(levels)) {
            why = Optional.of("the load never came down from full load");
        } else if (!late.isEmpty()) {
            why = Optional.of(late.size() + " of " + levels.size() + " levels were followed too late");
        }
        double worst = levels.stream().mapToDouble(Level::lateSeconds).max().orElse(Double.NaN);
        return new Followed(
                levels.size() + " levels, latest by " + Texts.number(worst, 2) + " s",
                why,
                levels.isEmpty(),
                late.stream()
                        .limit(MOST_EVIDENCE)
                        .map(l -> Evidence.of(
                                l.at(),
                                Texts.number(100 * l.level(), 0) + " % followed " + Texts.number(l.lateSeconds(), 2)
                                        + " s late"))
                        .toList());
    }

    private static boolean is(Level level, double wanted) {
        return Math.abs(level.level() - wanted) <= SAME_LEVEL;
    }

    private static boolean cameDown(List<Level> levels) {
        boolean full = false;
        for (Level l : levels) {
            if (full && l.level() < 1 - SAME_LEVEL) {
                return true;
            }
            full |= is(l, 1);
        }
        return false;
    }
}
