// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import java.util.List;

/** How one criterion is judged. */
public interface Rule {
    Criterion criterion();

    /** One finding for the run, or one for each part that it set out to prove. Never empty. */
    List<Finding> judge(CriterionSetting setting, Case run);
}
