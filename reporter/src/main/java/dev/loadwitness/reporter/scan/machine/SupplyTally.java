// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import java.util.List;
import org.jspecify.annotations.Nullable;

/**
 * Adapter and batteries over the run.
 *
 * @param adapterAnswered whether the adapter's state was ever read
 * @param adapterFed whether it ever fed the machine
 * @param drops times it stopped feeding the machine although nobody had been asked to pull it
 * @param firstDrop null if there was none
 * @param awaySeconds sampled time without it after such a drop
 * @param askedDrops times it stopped while somebody had been asked to
 */
public record SupplyTally(
        boolean adapterAnswered,
        boolean adapterFed,
        long drops,
        @Nullable At firstDrop,
        double awaySeconds,
        long askedDrops,
        List<Battery> batteries) {
    public SupplyTally {
        batteries = List.copyOf(batteries);
    }

    /**
     * One battery. Charges are shares of a full one.
     *
     * @param step the larger of the step that its channel states and the smallest that was seen; 0.01 where neither is known
     * @param start charge below which the firmware begins to charge, lowest seen; NaN if it does not say
     * @param end charge at which it ends, lowest seen; NaN if it does not say
     */
    public record Battery(Channel charge, double step, double start, double end, List<InStage> stages) {
        public Battery {
            stages = List.copyOf(stages);
        }
    }

    /**
     * One battery in one stage, on mains.
     *
     * @param stage its place in the list of stages
     * @param first and {@code last} reading, {@code lowest} of all
     * @param seconds from the first to the last
     * @param charging whether its state, or power flowing into it, said that it charged
     */
    public record InStage(int stage, double first, double last, double lowest, double seconds, boolean charging) {}
}
