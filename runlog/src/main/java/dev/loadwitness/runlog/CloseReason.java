// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/** Why a run ended. */
public enum CloseReason implements Word {
    /** Every stage ran to its end. */
    COMPLETED,
    /** Ctrl-C, SIGTERM or a key. */
    OPERATOR_STOP,
    /** A safety ceiling was crossed, or the sensor that guards it fell silent. */
    SAFETY_STOP,
    /** The procedure needs a device that is not there. */
    DEVICE_ABSENT,
    /** A planted miscomputation or dropout was not caught: the witness is blind. */
    WITNESS_BLIND,
    /** A load died, stalled, or could not be started. */
    LOAD_FAILED,
    /** No room left for the log. */
    STORAGE_FULL,
    /** Ended after an interruption, because the procedure does not go on by itself. */
    INTERRUPTED,
    /** Several boots in a row without a sample between them. */
    RESTART_LOOP,
    /** A defect of the agent. */
    AGENT_FAILED
}
