// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.cpu;

import dev.loadwitness.agent.load.Worker;
import java.util.Locale;

/**
 * Keeps every core at work on arithmetic whose result is known. One unit is 100 runs of {@link ChaoticBlock}, a few
 * milliseconds.
 */
public final class CpuWorker implements Worker {
    private static final int RUNS_A_UNIT = 100;

    private final int threads;

    public CpuWorker(int threads) {
        this.threads = threads;
    }

    @Override
    public int threads() {
        return threads;
    }

    @Override
    public void work(int thread, Bench bench) {
        while (bench.goesOn()) {
            unit(thread, bench);
        }
    }

    private static void unit(int thread, Bench bench) {
        boolean right = true;
        for (int run = 0; run < RUNS_A_UNIT; run++) {
            int seed = run % ChaoticBlock.SEEDS;
            boolean planted = bench.takePlant();
            long got = ChaoticBlock.run(seed, planted ? ChaoticBlock.PLANTED_BIT : 0);
            long expected = ChaoticBlock.expected(seed);
            if (got == expected) {
                right &= !planted; // a planted fault that gives the right result was not noticed: no proof, no unit
                continue;
            }
            right = false;
            if (planted) {
                bench.plantCaught();
            } else {
                bench.wrong(String.format(
                        Locale.ROOT, "thread %d seed %d: expected %016x, got %016x", thread, seed, expected, got));
            }
        }
        if (right) {
            bench.right(1);
        }
    }
}
