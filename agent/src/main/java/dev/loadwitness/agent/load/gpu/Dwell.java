// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

/**
 * One trial's time: lets the reading settle, then takes the mean. Many parts report the mean power of the last second, once a
 * second: such a reading is of this trial alone only when it comes later than that.
 */
final class Dwell {
    static final long POWER_SETTLE_NANOS = 1_700_000_000L;
    static final long POWER_LONGEST_NANOS = 4_500_000_000L;
    private static final int POWER_READINGS = 2;

    private final long settledNanos;
    private final long endNanos;
    private double sum;
    private int count;
    private double last = Double.NaN;

    /** A trial that begins now. */
    Dwell(long nowNanos) {
        this.settledNanos = nowNanos + POWER_SETTLE_NANOS;
        this.endNanos = nowNanos + POWER_LONGEST_NANOS;
    }

    /** A reading came. */
    void power(long nanos, double watts) {
        last = watts;
        if (nanos >= settledNanos) {
            sum += watts;
            count++;
        }
    }

    boolean isOver(long nowNanos) {
        return nowNanos >= endNanos || count >= POWER_READINGS;
    }

    /** NaN if nothing was read. */
    double watts() {
        return count > 0 ? sum / count : last;
    }
}
