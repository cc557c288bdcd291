// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Held;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Cause;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.LoadKind;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.function.Function;

/**
 * What {@code ramp} and {@code load-steps} share: one finding for each stage with their load. The machine fails by a power
 * brake, a slowdown in steady load, or a wrong result; a load that did not follow its commands has shown nothing, and is
 * inconclusive. Reported power is a mean over a second on many parts, and decides nothing here.
 */
final class Switching {
    private Switching() {}

    /** @param why what was not followed; empty if all was */
    record Followed(String measured, Optional<String> why, boolean nothingTold, List<Evidence> evidence) {}

    static List<Finding> judge(
            CriterionSetting setting,
            Case run,
            LoadKind load,
            Limit limit,
            String origin,
            Function<StageTally, Followed> follow) {
        List<Finding> findings = run.scan().stages().stream()
                .filter(s -> s.stage().loads().contains(load))
                .map(s -> judge(setting, s, follow.apply(s)).against(limit, origin))
                .toList();
        return findings.isEmpty()
                ? List.of(Finding.of(
                        setting, "", Outcome.NOT_MEASURED, "No stage with the load " + load.word() + " was run."))
                : findings;
    }

    private static Finding judge(CriterionSetting setting, StageTally stage, Followed followed) {
        Role part = stage.part().orElseThrow();
        String name = stage.stage().id();
        List<Evidence> evidence = new ArrayList<>(followed.evidence());
        List<String> faults = new ArrayList<>();
        Held brake = Held.of(Cause.POWER_BRAKE, List.of(stage));
        Held slowdown = Held.of(Cause.HARDWARE_SLOWDOWN, List.of(stage));
        for (Held h : List.of(brake, slowdown)) {
            if (h.episodes() > 0) {
                faults.add("held itself back (" + h.name() + ") for " + Texts.duration(h.seconds()));
                h.where(evidence);
            }
        }
        if (stage.workErrors() > 0) {
            faults.add("computed " + Texts.number(stage.workErrors(), 0) + " wrong results");
        }
        String part1 = Texts.sentenceCase(Texts.part(part));
        if (!faults.isEmpty()) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.FAIL,
                            part1 + " " + String.join(" and ", faults) + " in stage " + name
                                    + ", while its load changed: look at the power stage's answer to it.")
                    .measured(Value.said(String.join(", ", faults) + "; " + followed.measured()))
                    .seen(evidence);
        }
        Optional<String> unseen = unseen(stage, brake, slowdown, followed);
        if (unseen.isPresent()) {
            return Finding.of(setting, part.word(), Outcome.NOT_MEASURED, "In stage " + name + " " + unseen.get() + ".")
                    .seen(evidence);
        }
        Optional<String> why = stage.completed() ? followed.why() : Optional.of("the stage was cut short");
        return Finding.of(
                        setting,
                        part.word(),
                        why.isPresent() ? Outcome.INCONCLUSIVE : Outcome.PASS,
                        why.map(w -> "In stage " + name + " " + w
                                        + ": the load was not what was commanded, so nothing was shown.")
                                .orElse(part1 + " took every change of load in stage " + name
                                        + " without a power brake and without a wrong result."))
                .measured(Value.said(followed.measured()))
                .seen(evidence);
    }

    private static Optional<String> unseen(StageTally stage, Held brake, Held slowdown, Followed followed) {
        if (!brake.measured() && !slowdown.measured()) {
            return Optional.of("nothing told of a power brake or a slowdown");
        }
        if (Double.isNaN(stage.workErrors())) {
            return Optional.of("nothing counted wrong results");
        }
        return followed.nothingTold() ? Optional.of("the load told nothing of what it followed") : Optional.empty();
    }
}
