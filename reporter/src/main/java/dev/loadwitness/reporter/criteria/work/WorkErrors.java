// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.work;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Texts;
import dev.loadwitness.reporter.finding.Unit;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.belief.WorkTally;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.Parameter;
import java.util.List;
import java.util.stream.Stream;

/**
 * Results of our own loads that were wrong: of computing parts, or of the march test over memory. Asked of every part
 * that the run set out to prove, and of every other that it loaded.
 */
public final class WorkErrors implements Rule {
    private static final int MOST_EVIDENCE = 5;

    private final Criterion criterion;
    private final Parameter<Parameter.Count> atMost;

    public WorkErrors(Criterion criterion, Parameter<Parameter.Count> atMost) {
        this.criterion = criterion;
        this.atMost = atMost;
    }

    @Override
    public Criterion criterion() {
        return criterion;
    }

    private boolean ofMemory() {
        return criterion == Criterion.MEMORY_ERRORS;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        List<Role> parts = Stream.concat(
                        run.parts().stream(), run.scan().work().stream().map(WorkTally::role))
                .filter(role -> (role == Role.MEMORY) == ofMemory())
                .distinct()
                .toList();
        if (parts.isEmpty()) {
            return List.of(Finding.of(
                    setting,
                    "",
                    Outcome.NOT_MEASURED,
                    ofMemory() ? "The run tested no memory." : "The run computed nothing that was checked."));
        }
        return parts.stream().map(part -> judge(setting, run, part)).toList();
    }

    private Finding judge(CriterionSetting setting, Case run, Role part) {
        WorkTally work = run.scan().work().stream()
                .filter(w -> w.role() == part)
                .findFirst()
                .orElse(new WorkTally(part, 0, Double.NaN));
        double most = setting.count(atMost);
        Limit limit = Limit.atMost(new Amount(most, Unit.COUNT, Amount.Digits.WHOLE));
        EventKind kind = ofMemory() ? EventKind.MEMORY_ERROR : EventKind.COMPUTE_ERROR;
        List<NotedEvent> told = run.scan()
                .events(kind)
                .filter(e -> ofMemory() || e.event().text("role").equals(part.word()))
                .toList();
        boolean counted = !Double.isNaN(work.errors());
        double errors = counted ? Math.max(work.errors(), told.size()) : told.size();
        List<Evidence> evidence = told.stream()
                .limit(MOST_EVIDENCE)
                .map(e -> Evidence.of(e.at(), e.event().text("detail")))
                .toList();
        if (work.verified() <= 0 && errors <= 0) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "No work on " + Texts.part(part) + " was checked.")
                    .against(limit, setting.origin(atMost));
        }
        boolean pass = errors <= most;
        if (pass && !counted) {
            return Finding.of(
                            setting,
                            part.word(),
                            Outcome.NOT_MEASURED,
                            "The log has no count of wrong results of " + Texts.part(part) + ".")
                    .against(limit, setting.origin(atMost));
        }
        String because = pass
                ? Texts.count(Math.round(work.verified())) + " units of work on " + Texts.part(part) + " were checked, "
                        + (errors == 0
                                ? "none was"
                                : Texts.count(Math.round(errors)) + (errors == 1 ? " was" : " were"))
                        + " wrong."
                : Texts.count(Math.round(errors)) + (errors == 1 ? " result of " : " results of ") + Texts.part(part)
                        + (errors == 1 ? " was" : " were") + " wrong: "
                        + (ofMemory()
                                ? "faulty memory, or its supply."
                                : "a chip, its supply or its memory that computes wrongly under load.");
        return Finding.of(setting, part.word(), pass ? Outcome.PASS : Outcome.FAIL, because)
                .against(limit, setting.origin(atMost))
                .measured(Value.of(new Amount(errors, Unit.COUNT, Amount.Digits.GROUPED)))
                .seen(evidence);
    }
}
