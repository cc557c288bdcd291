// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.List;
import java.util.function.Function;

/** How one criterion is judged. */
public interface Rule {
    Criterion criterion();

    /** One finding for the run, or one for each part that it set out to prove. Never empty. */
    List<Finding> judge(CriterionSetting setting, Case run);

    /** One finding for each part; where there is none, that this was not measured, and {@code why}. */
    static List<Finding> ofEach(
            List<Role> parts, CriterionSetting setting, String why, Function<Role, Finding> judged) {
        return parts.isEmpty()
                ? List.of(Finding.of(setting, "", Outcome.NOT_MEASURED, why))
                : parts.stream().map(judged).toList();
    }
}
