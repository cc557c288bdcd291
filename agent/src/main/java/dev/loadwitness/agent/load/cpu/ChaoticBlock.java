// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.cpu;

/**
 * Eight independent chains x ← x·x + c in double precision by fused multiply-add, and an integer hash of what they pass
 * through. At the eight c chosen here the map is chaotic: two orbits that differ drift apart to order one within some
 * seventy steps and do not meet again, so that no slip larger than a rounding can hide from the final checksum. Eight chains
 * fill the latency of the multiply-add unit.
 *
 * <p>{@link Math#fma} is specified to the last bit, so the right results are the same on every machine. They stand below
 * as constants and were computed by exact rational arithmetic; the test does so again.
 */
final class ChaoticBlock {
    static final int SEEDS = 4;
    static final int STEPS = 20_000;

    /** Steps between two looks of the hash at the chains. */
    static final int HASH_EVERY = 4;

    private static final long MULTIPLIER = 0x9E3779B97F4A7C15L;
    private static final long[] EXPECTED = {
        0x41AB0F275A6FB680L, 0xD14595D1A3C056ACL, 0x88E3332BA6480522L, 0x2BBFD37FF533B63DL,
    };

    private ChaoticBlock() {}

    static long expected(int seed) {
        return EXPECTED[seed];
    }

    /** The constant c of a chain. */
    static double constant(int chain) {
        return -1.90625 - chain / 128.0;
    }

    /** Where a chain begins. */
    static double start(int seed, int chain) {
        return (1 + seed) / 16.0 + chain / 128.0;
    }

    /** A planted fault: one bit in the middle of a number. In the last bits of a small one, rounding would absorb it. */
    static final long PLANTED_BIT = 1L << 40;

    /**
     * Runs the block.
     *
     * @param flip 0; or a bit in which the first chain is to begin wrong
     */
    static long run(int seed, long flip) {
        double x0 = Double.longBitsToDouble(Double.doubleToRawLongBits(start(seed, 0)) ^ flip);
        double x1 = start(seed, 1);
        double x2 = start(seed, 2);
        double x3 = start(seed, 3);
        double x4 = start(seed, 4);
        double x5 = start(seed, 5);
        double x6 = start(seed, 6);
        double x7 = start(seed, 7);
        double c0 = constant(0);
        double c1 = constant(1);
        double c2 = constant(2);
        double c3 = constant(3);
        double c4 = constant(4);
        double c5 = constant(5);
        double c6 = constant(6);
        double c7 = constant(7);
        long hash = seed;
        for (int step = 0; step < STEPS; step += HASH_EVERY) {
            for (int k = 0; k < HASH_EVERY; k++) {
                x0 = Math.fma(x0, x0, c0);
                x1 = Math.fma(x1, x1, c1);
                x2 = Math.fma(x2, x2, c2);
                x3 = Math.fma(x3, x3, c3);
                x4 = Math.fma(x4, x4, c4);
                x5 = Math.fma(x5, x5, c5);
                x6 = Math.fma(x6, x6, c6);
                x7 = Math.fma(x7, x7, c7);
            }
            hash = mix(hash, x0 + x1);
            hash = mix(hash, x2 + x3);
        }
        hash = mix(hash, x0);
        hash = mix(hash, x1);
        hash = mix(hash, x2);
        hash = mix(hash, x3);
        hash = mix(hash, x4);
        hash = mix(hash, x5);
        hash = mix(hash, x6);
        return mix(hash, x7);
    }

    private static long mix(long hash, double value) {
        long mixed = (hash ^ Double.doubleToRawLongBits(value)) * MULTIPLIER;
        return mixed ^ (mixed >>> 29);
    }
}
