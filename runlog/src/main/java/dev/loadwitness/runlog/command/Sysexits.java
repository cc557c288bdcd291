// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.command;

/** Exit statuses above 63, which never mean a verdict: those of BSD's sysexits. What is below 64, each program says itself. */
public final class Sysexits {
    public static final int USAGE = 64;
    /** Damaged or malformed input. */
    public static final int DATA = 65;
    /** Input that cannot be opened. */
    public static final int NO_INPUT = 66;
    /** Something that this needs is not there. */
    public static final int UNAVAILABLE = 69;

    public static final int SOFTWARE = 70;
    public static final int CANNOT_CREATE = 73;
    public static final int IO = 74;
    /** It is another user's. */
    public static final int NO_PERMISSION = 77;

    private Sysexits() {}
}
