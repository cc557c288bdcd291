// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.reporter.scan.follow.At;
import java.util.List;
import java.util.Optional;

/**
 * What was switched in one stage on command, as the load followed it.
 *
 * @param levels shares of full load, in the order in which they were followed; the first thousand
 * @param rates load steps, by commanded period and duty, in the order in which they began
 * @param unreadable records of edges that could not be understood
 * @param last the last record of edges that was told
 */
public record StepTally(List<Level> levels, List<Rate> rates, int unreadable, Optional<Edges> last) {
    public StepTally {
        levels = List.copyOf(levels);
        rates = List.copyOf(rates);
    }

    /**
     * One level.
     *
     * @param level share of full load
     * @param lateSeconds between command and obedience
     */
    public record Level(At at, double level, double lateSeconds) {}

    /**
     * One record of edges.
     *
     * @param at when it was told, after its last edge
     * @param on whether its last edge switched the load on
     */
    public record Edges(At at, double periodSeconds, double duty, boolean on) {}

    /**
     * Edges commanded at one rate, as the worker saw them.
     *
     * @param edges how many there were
     * @param missing how many there should have been beside them, by period, duty and time
     * @param late how many missed their moment by more than the tolerance
     * @param worstSeconds the most by which one missed its moment
     * @param seconds from first to last edge
     */
    public record Rate(
            At at,
            double periodSeconds,
            double duty,
            long edges,
            long missing,
            long late,
            double worstSeconds,
            double seconds) {
        Rate plus(Rate more) {
            return new Rate(
                    at,
                    periodSeconds,
                    duty,
                    edges + more.edges,
                    missing + more.missing,
                    late + more.late,
                    Math.max(worstSeconds, more.worstSeconds),
                    seconds + more.seconds);
        }

        private boolean isOf(Rate other) {
            return periodSeconds == other.periodSeconds && duty == other.duty;
        }

        /** Adds {@code more} to the entry of its rate, or as a new one. */
        static void into(List<Rate> rates, Rate more) {
            for (int i = 0; i < rates.size(); i++) {
                if (rates.get(i).isOf(more)) {
                    rates.set(i, rates.get(i).plus(more));
                    return;
                }
            }
            rates.add(more);
        }
    }
}
