// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

import dev.loadwitness.runlog.Word;

/** How a criterion, or the whole run, came out. Silence never passes. */
public enum Outcome implements Word {
    PASS,
    FAIL,
    /** Measured, but the measurement does not decide: inside the guard band, or the evidence has holes. */
    INCONCLUSIVE,
    /** What it needs was missing, stuck or lost. Of a whole run it is said as inconclusive. */
    NOT_MEASURED,
    /** Declared on the job sheet, with a reason. */
    NOT_APPLICABLE
}
