// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.statistics.ConformityDecision;

/** From the words of the decision rule to those of a finding. */
public final class Outcomes {
    private Outcomes() {}

    public static Outcome of(ConformityDecision decision) {
        return switch (decision.outcome()) {
            case CONFORMS -> Outcome.PASS;
            case DOES_NOT_CONFORM -> Outcome.FAIL;
            case INSIDE_GUARD_BAND -> Outcome.INCONCLUSIVE;
        };
    }
}
