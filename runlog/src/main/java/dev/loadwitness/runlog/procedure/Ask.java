// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Word;

/** What a stage needs a person for, before its load begins. */
public enum Ask implements Word {
    /** Shut down, wait until it is cold, switch on again: the run goes on at the next boot. */
    POWER_OFF,
    /** Put the machine to sleep and wake it. */
    SLEEP,
    /** Pull the adapter's plug and put it back. */
    REPLUG,
    /** Leave it alone until the loaded part is cold. */
    COOL_DOWN
}
