// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.cpu;

import dev.loadwitness.agent.load.worker.Worker;
import java.util.Locale;

/** Keeps every core at work on arithmetic whose result is known. One unit is 600 rounds of {@link ArithmeticRound}. */
public final class CpuWorker implements Worker {
    private static final int ROUNDS_A_UNIT = 600;

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
        ArithmeticRound round = new ArithmeticRound();
        while (bench.goesOn()) {
            unit(thread, round, bench);
        }
    }

    private static void unit(int thread, ArithmeticRound round, Bench bench) {
        boolean right = true;
        for (int i = 0; i < ROUNDS_A_UNIT; i++) {
            int variant = i % ArithmeticRound.VARIANTS;
            boolean planted = bench.takePlant();
            long got = planted ? round.runPlanted(variant) : round.run(variant);
            long expected = ArithmeticRound.expected(variant);
            if (got == expected) {
                right &= !planted; // a planted fault that gives the right result was not noticed: no proof, no unit
                continue;
            }
            right = false;
            if (planted) {
                bench.plantCaught();
            } else {
                bench.wrong(String.format(
                        Locale.ROOT,
                        "thread %d variant %d: expected %016x, got %016x",
                        thread,
                        variant,
                        expected,
                        got));
            }
        }
        if (right) {
            bench.right(1);
        }
    }
}
