// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import dev.loadwitness.runlog.Word;
import java.util.List;
import java.util.Optional;
import java.util.OptionalDouble;

/**
 * One supply rail, as measured by hand.
 *
 * @param kind empty where left open: then only limits of its own judge it
 * @param nominalVolts what the board's papers say
 * @param toleranceShare how far it may be from nominal, as a fraction of it
 * @param voltsLeast its own lower limit, instead of a tolerance
 * @param voltsMost its own upper limit
 * @param limitsOrigin where tolerance or limits are from
 * @param state idle, loaded, standby or off; any other text is kept as it is
 * @param uncertaintyVolts expanded (k = 2), of the voltage after
 * @param knownGood the same of a board that is known to be good
 */
public record Rail(
        String name,
        Optional<Kind> kind,
        OptionalDouble nominalVolts,
        OptionalDouble toleranceShare,
        OptionalDouble voltsLeast,
        OptionalDouble voltsMost,
        String limitsOrigin,
        String state,
        Reading before,
        Reading after,
        OptionalDouble uncertaintyVolts,
        Reading knownGood) {
    public static final String OFF = "off";
    public static final List<String> STATES = List.of("idle", "loaded", "standby", OFF);

    /** A rail of which only these are known. */
    public static Rail of(
            String name, OptionalDouble ohmsBefore, OptionalDouble ohmsAfter, OptionalDouble voltsAfter, String state) {
        OptionalDouble none = OptionalDouble.empty();
        return new Rail(
                name,
                Optional.empty(),
                none,
                none,
                none,
                none,
                "",
                state,
                new Reading(none, ohmsBefore, none),
                new Reading(voltsAfter, ohmsAfter, none),
                none,
                Reading.NONE);
    }

    /** Before the repair, with the power off. */
    public OptionalDouble ohmsBefore() {
        return before.ohms();
    }

    /** In the state named. */
    public OptionalDouble voltsAfter() {
        return after.volts();
    }

    /** Name and state, which together tell two lines of one rail apart: {@code main 5 V, idle}. */
    public String title() {
        return state.isEmpty() ? name : name + ", " + state;
    }

    /** Whether the sheet itself says within which volts this rail must be. */
    public boolean hasOwnLimits() {
        return voltsLeast.isPresent()
                || voltsMost.isPresent()
                || (nominalVolts.isPresent() && toleranceShare.isPresent());
    }

    /** Whether a rail has a voltage of its own, or is told one from moment to moment. */
    public enum Kind implements Word {
        FIXED,
        /** Set by the chip that it feeds: what is right depends on the load. */
        CONTROLLED
    }

    /**
     * What a meter said at one rail.
     *
     * @param volts powered, in the rail's state
     * @param ohms to ground, power off
     * @param diodeVolts the meter's diode range, red probe to ground, power off
     */
    public record Reading(OptionalDouble volts, OptionalDouble ohms, OptionalDouble diodeVolts) {
        public static final Reading NONE =
                new Reading(OptionalDouble.empty(), OptionalDouble.empty(), OptionalDouble.empty());

        public boolean isEmpty() {
            return equals(NONE);
        }
    }
}
