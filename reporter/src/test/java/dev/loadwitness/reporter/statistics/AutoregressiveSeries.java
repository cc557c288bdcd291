// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.util.Random;

/** Seeded normal series of first order, of standard deviation 1. */
final class AutoregressiveSeries {
    private AutoregressiveSeries() {}

    static double[] of(Random random, int n, double correlation) {
        double[] x = new double[n];
        double before = random.nextGaussian();
        for (int i = 0; i < n; i++) {
            x[i] = before;
            before = correlation * before + StrictMath.sqrt(1 - correlation * correlation) * random.nextGaussian();
        }
        return x;
    }
}
