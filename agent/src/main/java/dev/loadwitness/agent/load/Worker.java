// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

/** What a worker process does. Each of its threads runs {@link #work} with a number of its own. */
public interface Worker {
    /** How many threads are to run. */
    int threads();

    /** Works until {@link Bench#goesOn} says no, and tells the bench of every unit. */
    void work(int thread, Bench bench);

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
    }
}
