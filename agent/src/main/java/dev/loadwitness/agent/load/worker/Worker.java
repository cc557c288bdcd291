// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.worker;

import java.util.List;
import java.util.Optional;

/** What a worker process does. Each of its threads runs {@link #work} with a number of its own. */
public interface Worker {
    /** How many threads are to run. */
    int threads();

    /** Works until {@link Bench#goesOn} says no, and tells the bench of every unit. */
    void work(int thread, Bench bench);

    /** Whether it has found out all that it must know before its work counts as the load that was asked for. */
    default boolean isPrepared() {
        return true;
    }

    /** A power reading of the loaded part, and when it came. */
    record Power(long nanos, double watts) {}

    /** Where a worker's threads report. All methods may be called from any thread. */
    interface Bench {
        boolean goesOn();

        /** So many units were found right. */
        void right(long units);

        /** One unit was found wrong. */
        void wrong(String detail);

        /** True to exactly one thread after each request to plant a wrong result. */
        boolean takePlant();

        /** The planted result was found wrong by the verification that finds all others. */
        void plantCaught();

        /** The last power reading of the loaded part, if any ever came. */
        Optional<Power> power();

        /** When this worker began, in {@link System#nanoTime}. */
        long beganNanos();

        /** From now on it works at this share of full load; {@code lateSeconds} after it was to. */
        void level(double level, double lateSeconds);

        /**
         * It switched on and off.
         *
         * @param sinceSeconds from when this worker began to the first edge
         * @param edgesMicros of each edge since the first, on and off in turn
         */
        void edges(double periodSeconds, double duty, double sinceSeconds, List<Long> edgesMicros);

        /** The search for the heaviest load tried something. */
        void tuned(String detail, boolean power, double value, boolean chosen);

        /** Something for whoever watches; not for the log. */
        void note(String text);

        /** The device does not answer any more; does not return. */
        void lost(String detail);
    }
}
