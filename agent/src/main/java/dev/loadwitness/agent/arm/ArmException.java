// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm;

/** Why a start at boot is not installed, or not removed, and what to do: for people. */
public final class ArmException extends Exception {
    private static final long serialVersionUID = 1L;

    /** What kind of hindrance it is. */
    public enum Kind {
        /** Only root may. */
        PERMISSION,
        /** This system cannot. */
        SYSTEM,
        /** The place of log or program is not fit for it. */
        PLACE
    }

    private final Kind kind;

    public ArmException(Kind kind, String message) {
        super(message);
        this.kind = kind;
    }

    public Kind kind() {
        return kind;
    }
}
