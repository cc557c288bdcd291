// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.command.Sysexits;

/** Exit statuses below 64, as the help of each command lists them; the others are {@link Sysexits}. */
final class Exit {
    static final int COMPLETED = 0;
    static final int ENDED_EARLY = 1;
    static final int STOPPED = 2;

    private Exit() {}

    static int of(CloseReason reason) {
        return switch (reason) {
            case COMPLETED -> COMPLETED;
            case OPERATOR_STOP -> STOPPED;
            case DEVICE_ABSENT -> Sysexits.UNAVAILABLE;
            case AGENT_FAILED -> Sysexits.SOFTWARE;
            default -> ENDED_EARLY;
        };
    }
}
