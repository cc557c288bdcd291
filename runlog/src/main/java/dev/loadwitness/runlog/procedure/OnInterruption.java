// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Word;

/** What {@code resume} does with a run that broke off. */
public enum OnInterruption implements Word {
    /** Closes it: to put load back on a board that just tripped needs a person. */
    STOP,
    /** Begins the stage that broke off anew, and goes on from there. */
    GO_ON
}
