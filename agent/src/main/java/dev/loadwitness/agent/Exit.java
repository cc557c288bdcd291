// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.runlog.CloseReason;

/** Exit statuses, as the help of each command lists them. Those above 63 are the BSD sysexits. */
final class Exit {
    static final int COMPLETED = 0;
    static final int ENDED_EARLY = 1;
    static final int STOPPED = 2;
    static final int USAGE = 64;
    /** A procedure or job sheet with mistakes in it. */
    static final int DATA = 65;
    /** Input that cannot be opened. */
    static final int NO_INPUT = 66;
    /** A device that the procedure needs is not there, or this is no Linux. */
    static final int UNAVAILABLE = 69;

    static final int SOFTWARE = 70;
    static final int CANNOT_CREATE = 73;
    static final int IO = 74;
    /** It is another user's. */
    static final int NO_PERMISSION = 77;

    private Exit() {}

    static int of(CloseReason reason) {
        return switch (reason) {
            case COMPLETED -> COMPLETED;
            case OPERATOR_STOP -> STOPPED;
            case DEVICE_ABSENT -> UNAVAILABLE;
            case AGENT_FAILED -> SOFTWARE;
            default -> ENDED_EARLY;
        };
    }
}
