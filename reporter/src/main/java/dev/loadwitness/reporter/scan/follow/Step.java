// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.follow;

import dev.loadwitness.runlog.procedure.Stage;
import org.jspecify.annotations.Nullable;

/**
 * One sample and the time since the one before, as {@link Follower}s see it; all places are those of the channel table.
 *
 * @param seconds since the sample before; 0 at the first of a boot
 * @param share of that time that belongs to the stage: its first step begins with it, not with the sample before
 * @param read as read, without what is beyond all scales
 * @param values without what cannot be believed either; NaN was not read
 * @param counters how much each counter grew since it was last read
 * @param onMains whether the adapter is known to feed the machine
 * @param stage the one that runs; null outside any
 * @param stageNumber its place in the list of stages; −1 outside any
 */
@SuppressWarnings("ArrayRecordComponent") // handed from hand to hand a million times, never compared
public record Step(
        At at,
        double seconds,
        double share,
        double[] read,
        double[] values,
        Counters counters,
        boolean onMains,
        @Nullable Stage stage,
        int stageNumber) {
    /** NaN where there is no such channel. */
    public double value(int place) {
        return place < 0 ? Double.NaN : values[place];
    }
}
