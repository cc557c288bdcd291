// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/**
 * A position in a run: which boot, and the monotonic clock of that boot. Times of different segments are never
 * subtracted from each other: their clocks have different zeros.
 *
 * @param segment 0 for the boot in which the run began, then counting up
 * @param nanos monotonic nanoseconds since the agent began in this segment, never negative, stopped while suspended
 */
public record RunTime(int segment, long nanos) {
    public RunTime {
        if (segment < 0 || nanos < 0) {
            throw new IllegalArgumentException("run time is negative: segment=" + segment + " nanos=" + nanos);
        }
    }

    public double seconds() {
        return nanos / 1e9;
    }
}
