// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.cpu;

/**
 * One round of the processor load: many independent chains of floating-point and integer arithmetic, and one checksum
 * over the end of all of them.
 *
 * <p>Floating point: each lane iterates {@code x -> fma(x, M, C)} with {@code M} a little beyond -2. Java 17 fixes its
 * result to the last bit ({@link Math#fma(double, double, double)}). An error is not rounded away: the seeds are chosen
 * so that {@code |x|} moves up exactly one power of two at each step, which doubles a unit in the last place, while
 * {@code M} multiplies every deviation by more than two. So two numbers that differ by at least one such unit before a
 * step differ by more than one after it, and round to different numbers. Integers: multiply by an odd number, add, xor
 * with a shift, each a bijection of 64-bit words.
 *
 * <p>The checksum folds lane after lane with bijections too: if a single lane ends with any bit wrong, the checksum
 * is wrong for certain; several wrong lanes cancel with a probability of about 2^-64.
 *
 * <p>The expected checksums are constants, not computed at start: a processor that is consistently wrong would agree
 * with itself. The tests compute them again with {@link java.math.BigDecimal} and {@link java.math.BigInteger}.
 */
final class ArithmeticRound {
    static final int LANES = 512;
    static final int PASSES = 16;
    static final int STEPS_EACH_PASS = 8;
    static final int VARIANTS = 4;

    /** -(2 + pi/8192) and pi/32, as doubles: no pattern in their bits, and the binade argument above holds. */
    static final double M = -2.000383495196971;

    static final double C = 0.09817477042468103;

    /** Odd, so multiplying by it is a bijection of 64-bit words: the golden ratio times 2^64. */
    static final long ODD = 0x9E3779B97F4A7C15L;

    private static final long[] EXPECTED = {
        0x1AC474F8202C74C9L, 0x6AE57251275055A4L, 0xECAD73510A5EA623L, 0xA3BF35D2D66D65F3L
    };

    private static final int PLANT_PASS = PASSES / 2;
    private static final int PLANT_LANE = LANES / 3;

    // Four kibibytes each: they stay in the first-level cache, so the arithmetic units are what is busy.
    private final double[] x = new double[LANES];
    private final long[] n = new long[LANES];

    static long expected(int variant) {
        return EXPECTED[variant];
    }

    /** The start of a lane: between 1.125 and 1.875, exact, and different in every lane of every variant. */
    static double seed(int variant, int lane) {
        int k = variant * LANES + lane;
        return 1.125 + (2 * k + 1) * (3.0 / 16384);
    }

    /** Computes the round and returns its checksum, which must equal {@link #expected(int)}. */
    long run(int variant) {
        return run(variant, PASSES, 0, 0);
    }

    /** The same with one unit in the last place of one lane changed half-way: what a planted miscomputation is. */
    long runPlanted(int variant) {
        return run(variant, PLANT_PASS, PLANT_LANE, 1);
    }

    /** Computes the round; before pass {@code flipPass} the bits {@code flipMask} of {@code flipLane} are inverted. */
    long run(int variant, int flipPass, int flipLane, long flipMask) {
        for (int lane = 0; lane < LANES; lane++) {
            x[lane] = seed(variant, lane);
            n[lane] = (long) variant * LANES + lane;
        }
        for (int pass = 0; pass < PASSES; pass++) {
            if (pass == flipPass) {
                x[flipLane] = Double.longBitsToDouble(Double.doubleToRawLongBits(x[flipLane]) ^ flipMask);
            }
            floatingPass(x);
            integerPass(n);
        }
        return checksum(variant);
    }

    // Written out step by step, one lane beside the next, so that the compiler turns it into vector instructions.
    private static void floatingPass(double[] x) {
        for (int i = 0; i < LANES; i++) {
            double v = x[i];
            v = Math.fma(v, M, C);
            v = Math.fma(v, M, C);
            v = Math.fma(v, M, C);
            v = Math.fma(v, M, C);
            v = Math.fma(v, M, C);
            v = Math.fma(v, M, C);
            v = Math.fma(v, M, C);
            v = Math.fma(v, M, C);
            x[i] = v;
        }
    }

    private static void integerPass(long[] n) {
        for (int i = 0; i < LANES; i++) {
            long v = n[i];
            v = v * ODD + 1;
            v ^= v >>> 32;
            v = v * ODD + 1;
            v ^= v >>> 29;
            n[i] = v;
        }
    }

    private long checksum(int variant) {
        long sum = variant;
        for (int i = 0; i < LANES; i++) {
            // Rotated, or two wrong sign bits would only ever meet each other and cancel.
            sum = Long.rotateLeft(sum ^ Double.doubleToRawLongBits(x[i]), 29) * ODD + n[i];
        }
        return sum;
    }
}
