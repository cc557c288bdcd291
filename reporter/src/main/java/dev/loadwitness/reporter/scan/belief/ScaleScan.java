// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.belief;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/**
 * Leaves out readings of one channel that no quantity of a laptop comes near, whatever its unit: with them, sums and squares
 * would be no numbers any more. They count as not read, and such a channel is told as faulty.
 */
final class ScaleScan {
    /** Work is counted in units of the load's own, and makes the largest numbers by far: some 10^18 in a week (ours). */
    private static final double LARGEST = 1e21;

    private final Channel channel;
    private long readings;
    private long beyond;
    private @Nullable At at;
    private double value;

    ScaleScan(Channel channel) {
        this.channel = channel;
    }

    /** The reading, or NaN if it is none. */
    double add(At now, double reading) {
        if (Double.isNaN(reading)) {
            return reading;
        }
        readings++;
        if (Math.abs(reading) <= LARGEST) {
            return reading;
        }
        if (beyond == 0) {
            at = now;
            value = reading;
        }
        beyond++;
        return Double.NaN;
    }

    Optional<SensorFault> finish() {
        return at == null
                ? Optional.empty()
                : Optional.of(new SensorFault(channel, SensorFault.Kind.IMPOSSIBLE, at, value, beyond, readings));
    }
}
