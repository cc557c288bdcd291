// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.evidence;

import dev.loadwitness.reporter.criteria.rule.Case;
import dev.loadwitness.reporter.criteria.rule.Rule;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.JobSheet.HandCheck;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.List;
import java.util.stream.Collectors;

/** What only a person can check: every check on the job sheet made, and none failed. */
public final class HandChecks implements Rule {
    @Override
    public Criterion criterion() {
        return Criterion.HAND_CHECKS;
    }

    @Override
    public List<Finding> judge(CriterionSetting setting, Case run) {
        List<HandCheck> checks = run.jobSheet().map(JobSheet::handChecks).orElse(List.of());
        List<HandCheck> asked = in(checks, HandCheck.State.DONE, HandCheck.State.OPEN, HandCheck.State.FAILED);
        if (asked.isEmpty()) {
            return List.of(Finding.of(
                    setting,
                    "",
                    Outcome.NOT_MEASURED,
                    checks.isEmpty()
                            ? "The job sheet lists no check by hand. Write down what was checked, and judge again with the"
                                    + " sheet."
                            : "The job sheet lists no check by hand that applies to this machine."));
        }
        List<HandCheck> failed = in(checks, HandCheck.State.FAILED);
        List<HandCheck> open = in(checks, HandCheck.State.OPEN);
        int done = asked.size() - failed.size() - open.size();
        Outcome outcome = !failed.isEmpty() ? Outcome.FAIL : open.isEmpty() ? Outcome.PASS : Outcome.INCONCLUSIVE;
        return List.of(Finding.of(setting, "", outcome, because(asked.size(), failed, open))
                .against(Limit.said("all " + asked.size()), "job sheet")
                .measured(Value.said(done + " of " + asked.size()))
                .seen(checks.stream().map(HandChecks::evidence).toList()));
    }

    private static String because(int asked, List<HandCheck> failed, List<HandCheck> open) {
        String stillOpen = open.isEmpty() ? "" : "Checks by hand still open: " + names(open) + ".";
        if (!failed.isEmpty()) {
            return "By hand it was found that this fails: " + names(failed) + "."
                    + (stillOpen.isEmpty() ? "" : " " + stillOpen);
        }
        return open.isEmpty()
                ? (asked == 1 ? "The one check" : "All " + asked + " checks") + " by hand on the job sheet made, none"
                        + " failed."
                : stillOpen + " Make them, tick them on the job sheet, and judge again with it.";
    }

    private static Evidence evidence(HandCheck check) {
        return Evidence.named(
                "job sheet",
                check.name() + ": " + check.state().word().replace('-', ' ')
                        + (check.note().isEmpty() ? "" : " (" + check.note() + ")"));
    }

    private static String names(List<HandCheck> checks) {
        return checks.stream()
                .map(c -> c.name() + (c.note().isEmpty() ? "" : " (" + c.note() + ")"))
                .collect(Collectors.joining(", "));
    }

    private static List<HandCheck> in(List<HandCheck> checks, HandCheck.State... states) {
        return checks.stream().filter(c -> List.of(states).contains(c.state())).toList();
    }
}
