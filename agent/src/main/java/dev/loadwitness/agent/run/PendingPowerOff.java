// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.Ask;
import java.util.EnumSet;
import java.util.Optional;
import java.util.Set;

/**
 * Finds in the events of a log that broke off whether the machine had been asked to be switched off, and for which stage.
 * What other parts tell while it shuts down (kernel, sensors, adapter) does not end the asking; a stage does.
 */
public final class PendingPowerOff {
    private static final Set<EventKind> ENDS = EnumSet.of(
            EventKind.OPERATOR_DONE,
            EventKind.OPERATOR_STOP,
            EventKind.STAGE_LEFT_OUT,
            EventKind.STAGE_BEGIN,
            EventKind.LOAD_BEGIN,
            EventKind.SAFETY_STOP);

    private Optional<String> stage = Optional.empty();

    /** Each event of the log, in its order. */
    public void event(Event event) {
        EventKind kind = event.known().orElse(EventKind.KERNEL_MESSAGE);
        if (kind == EventKind.OPERATOR_ASKED) {
            stage = event.text("what").equals(Ask.POWER_OFF.word())
                    ? Optional.of(event.text("stage"))
                    : Optional.empty();
        } else if (ENDS.contains(kind)) {
            stage = Optional.empty();
        }
    }

    /** The stage with which the run goes on if the machine has been off since; empty if nobody had been asked. */
    public Optional<String> stage() {
        return stage;
    }
}
