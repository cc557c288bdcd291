// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.program;

import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.command.Sysexits;

/** Exit statuses below 64, as the help of each command lists them; the others are {@link Sysexits}. */
public final class Exit {
    public static final int COMPLETED = 0;
    public static final int ENDED_EARLY = 1;
    public static final int STOPPED = 2;

    private Exit() {}

    public static int of(CloseReason reason) {
        return switch (reason) {
            case COMPLETED -> COMPLETED;
            case OPERATOR_STOP -> STOPPED;
            case DEVICE_ABSENT -> Sysexits.UNAVAILABLE;
            case AGENT_FAILED -> Sysexits.SOFTWARE;
            default -> ENDED_EARLY;
        };
    }
}
