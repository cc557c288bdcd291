// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import dev.loadwitness.runlog.Word;
import java.util.Optional;
import java.util.OptionalDouble;

/**
 * What feeds the machine, and what it was sold to draw.
 *
 * @param ratedGraphicsWatts the graphics power this machine was sold with: the fixed reference for a full load
 * @param ratingOrigin where that number is from: the maker's data sheet, the box, a dealer's page
 * @param wallMeter readings between wall and adapter
 */
public record Power(
        OptionalDouble ratedGraphicsWatts, String ratingOrigin, Adapter adapter, Battery battery, WallMeter wallMeter) {
    public static final Power NONE = new Power(OptionalDouble.empty(), "", Adapter.NONE, Battery.NONE, WallMeter.NONE);

    /** Whose part was used on the bench. */
    public enum Owner implements Word {
        CUSTOMER,
        BENCH
    }

    /**
     * The adapter used on the bench.
     *
     * @param label what is printed on it
     * @param recognised whether the machine took it for one of full power
     */
    public record Adapter(OptionalDouble watts, String label, Optional<Boolean> recognised, Optional<Owner> whose) {
        public static final Adapter NONE = new Adapter(OptionalDouble.empty(), "", Optional.empty(), Optional.empty());
    }

    /**
     * The battery used on the bench.
     *
     * @param label what is printed on it
     * @param condition swollen, worn, new, …
     */
    public record Battery(String label, String condition, Optional<Owner> whose) {
        public static final Battery NONE = new Battery("", "", Optional.empty());
    }

    /**
     * A power meter between wall and adapter, read by hand: the only witness of power that the machine does not bring
     * itself.
     *
     * @param idleWatts in the idle stage
     * @param soakWatts in the longest soak, once the fans have settled
     */
    public record WallMeter(OptionalDouble idleWatts, OptionalDouble soakWatts) {
        public static final WallMeter NONE = new WallMeter(OptionalDouble.empty(), OptionalDouble.empty());
    }
}
