// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

/** Whole cycles of a fan, from one rise through its mean to another; a swing below 5 % either way is none. */
record FanCycles(double from, double seconds, int cycles) {
    private static final double SWING = 0.05;

    static FanCycles within(double[] speeds, int firstBin, double binSeconds) {
        double sum = 0;
        int read = 0;
        for (int i = firstBin; i < speeds.length; i++) {
            if (!Double.isNaN(speeds[i])) {
                sum += speeds[i];
                read++;
            }
        }
        double mean = sum / read;
        boolean below = false;
        int first = -1;
        int last = -1;
        int rises = 0;
        for (int i = firstBin; i < speeds.length; i++) {
            if (speeds[i] < mean * (1 - SWING)) {
                below = true;
            } else if (below && speeds[i] > mean * (1 + SWING)) {
                below = false;
                first = first < 0 ? i : first;
                last = i;
                rises++;
            }
        }
        return rises < 2
                ? new FanCycles(0, 0, 0)
                : new FanCycles(first * binSeconds, (last - first) * binSeconds, rises - 1);
    }
}
