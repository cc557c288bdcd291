// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import java.util.Random;

/**
 * The processor with its integrated graphics. It may draw its turbo power while the running mean of its power is below
 * its long-term limit, and at 100 °C it holds itself back.
 */
final class Processor {
    static final double THROTTLED_CELSIUS = 100;
    static final double MOST_GIGAHERTZ = 4.9;

    private static final double LEAST_GIGAHERTZ = 0.8;
    static final double LONG_TERM_WATTS = 45;
    private static final double TURBO_WATTS = 90;
    private static final double TURBO_SECONDS = 28;
    private static final double BASE_WATTS = 5;
    private static final double WATTS_AT_MOST = 110;
    private static final double EXPONENT = 2.6;
    private static final double INTEGRATED_WATTS = 25;

    private final Random random;
    private double wander;
    private double ambition = 1;
    private double meanWatts = BASE_WATTS;
    private double watts = BASE_WATTS;
    private double gigahertz = LEAST_GIGAHERTZ;
    private double busy;
    private double joules;
    private double units;
    private double memoryUnits;
    private double integratedUnits;
    private boolean hot;
    private long hotEpisodes;

    Processor(Random random) {
        this.random = random;
    }

    /**
     * One step; each demand is a share of full load, 0 to 1.
     *
     * @param chores work that loads nothing on purpose: the system, and feeding the GPU
     */
    void step(double seconds, double cpu, double memory, double integrated, double chores, double dieCelsius) {
        wander += -wander * seconds / 1.5 + 0.25 * StrictMath.sqrt(seconds / 1.5) * random.nextGaussian();
        double spare = Math.max(0, 1 - cpu);
        busy = Math.min(1, cpu + spare * Math.max(0.005, (chores + 0.4 * memory) * (1 + 0.6 * wander)));

        double allowed = meanWatts < LONG_TERM_WATTS ? TURBO_WATTS : LONG_TERM_WATTS;
        boolean was = hot;
        hot = dieCelsius >= THROTTLED_CELSIUS;
        ambition = hot ? Math.max(0.3, ambition - 0.5 * seconds) : Math.min(1, ambition + 0.05 * seconds);
        hotEpisodes += hot && !was ? 1 : 0;

        double graphics = INTEGRATED_WATTS * integrated;
        double forCores = Math.max(2, allowed * ambition - BASE_WATTS - graphics);
        double share = StrictMath.pow(Math.min(1, forCores / (WATTS_AT_MOST * busy)), 1 / EXPONENT);
        gigahertz = Math.max(LEAST_GIGAHERTZ, MOST_GIGAHERTZ * share);
        watts = BASE_WATTS
                + graphics
                + Math.min(forCores, WATTS_AT_MOST * busy * StrictMath.pow(gigahertz / MOST_GIGAHERTZ, EXPONENT));
        meanWatts += (watts - meanWatts) * seconds / TURBO_SECONDS;
        joules += watts * seconds;
        units += cpu * 220 * gigahertz * seconds;
        memoryUnits += memory * 350 * seconds;
        integratedUnits += integrated * 310 * seconds;
    }

    double watts() {
        return watts;
    }

    /** Mean over all cores, of which the idle ones rest at their lowest clock. */
    double meanGigahertz() {
        return LEAST_GIGAHERTZ + (gigahertz - LEAST_GIGAHERTZ) * Math.min(1, 0.1 + 1.3 * busy);
    }

    double busy() {
        return busy;
    }

    double joules() {
        return joules;
    }

    double units() {
        return units;
    }

    double memoryUnits() {
        return memoryUnits;
    }

    double integratedUnits() {
        return integratedUnits;
    }

    long hotEpisodes() {
        return hotEpisodes;
    }
}
