// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Word;
import java.time.Duration;

/** What a stage needs a person for, before its load begins. */
public enum Ask implements Word {
    /** Shut down, wait until it is cold, switch on again: the run goes on at the next boot. */
    POWER_OFF(Duration.ofMinutes(30)),
    /** Put the machine to sleep and wake it. */
    SLEEP(Duration.ofMinutes(15)),
    /** Pull the adapter's plug and put it back. */
    REPLUG(Duration.ofMinutes(15)),
    /** Leave it alone until the loaded part is cold. */
    COOL_DOWN(Duration.ofMinutes(60));

    private final Duration patience;

    Ask(Duration patience) {
        this.patience = patience;
    }

    /** How long a running machine waits for it; then the stage is left out (ours: a bench is not always attended). */
    public Duration patience() {
        return patience;
    }
}
