// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

/**
 * How a reading with an uncertainty is compared with a limit (JCGM 106:2012, ILAC-G8:09/2019).
 *
 * @param guardFactor guard band as a multiple of the expanded uncertainty (k = 2); 0 is simple acceptance
 */
public record DecisionRule(double guardFactor) {
    public static final DecisionRule SIMPLE = new DecisionRule(0);

    public DecisionRule {
        if (!(guardFactor >= 0 && guardFactor <= 3)) {
            throw new IllegalArgumentException("guard factor " + guardFactor + " is not between 0 and 3");
        }
    }
}
