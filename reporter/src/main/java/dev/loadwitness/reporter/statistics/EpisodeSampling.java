// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

/**
 * What reading a flag at a fixed period can miss. Assumes that episodes begin at a random phase of the sampling, and that no
 * sample is lost. Durations may be in any unit as long as both are in the same. Elementary.
 */
public final class EpisodeSampling {
    private EpisodeSampling() {}

    /** Probability that no sample falls into one episode: {@code 1 − d/p}, or 0 from {@code d = p} on. */
    public static double chanceMissed(double episode, double period) {
        return chanceAllMissed(episode, period, 1);
    }

    /** Probability that none of {@code episodes} independent episodes of this length is sampled: {@code (1 − d/p)^n}. */
    public static double chanceAllMissed(double episode, double period, int episodes) {
        Numbers.requireNotNegative(episode, "length of an episode");
        Numbers.requirePositive(period, "sampling period");
        Numbers.requirePositive(episodes, "number of episodes");
        return StrictMath.pow(Math.max(0, 1 - episode / period), episodes);
    }

    /**
     * Longest sampling period that catches an episode with this probability: {@code d/c}.
     *
     * @param chance above 0, at most 1
     */
    public static double longestPeriod(double episode, double chance) {
        Numbers.requirePositive(episode, "length of an episode");
        if (!(chance > 0 && chance <= 1)) {
            throw new IllegalArgumentException("chance is " + chance + "; it must be above 0 and at most 1");
        }
        return episode / chance;
    }
}
