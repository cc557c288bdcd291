// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import java.time.Duration;

/** Something that happened to a load. */
public sealed interface LoadFact {
    /** One result was wrong. {@code detail} says what was expected, what came, and where. */
    record Wrong(String detail) implements LoadFact {}

    /** The worker ended without being told to. */
    record Died(String detail) implements LoadFact {}

    /** The worker lives, and for so long has said nothing, or has said that it goes on while no unit was done. */
    record Stalled(Duration since, String detail) implements LoadFact {}

    /** The device does not answer any more; the worker has ended. */
    record Lost(String detail) implements LoadFact {}

    /** It works at this share of full load since {@code lateSeconds} after it was to. */
    record Level(double level, double lateSeconds) implements LoadFact {}

    /**
     * It switched on and off.
     *
     * @param sinceSeconds from the load's beginning to the first edge
     * @param edges microseconds since the first edge, comma-separated, on and off in turn, on first
     */
    record Edges(double periodSeconds, double duty, double sinceSeconds, String edges) implements LoadFact {}

    /**
     * The search for the heaviest load tried something.
     *
     * @param value watts, or without a power reading a rate
     * @param chosen whether it stays with this
     */
    record Tuned(String detail, boolean ofPower, double value, boolean chosen) implements LoadFact {}
}
