// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import java.math.BigInteger;

/**
 * What the words of device memory must add up to when {@code work.cl} passes over them, lap after lap.
 *
 * <p>Word i begins as {@code i * ODD + ADDEND} and becomes {@code v * FACTOR + ADDEND} each time it was read, all modulo
 * 2^32. Both are bijections, so a wrong bit stays wrong until it is seen. Sums over whole pieces are linear in the words,
 * and so known in closed form without computing a single word. Words are added up twice, plain and times (2i + 1): one wrong
 * word shows for certain in either sum, several escape both with a probability of about 2^-64.
 */
final class TrafficMemory {
    static final int FACTOR = 1664525;
    static final int ADDEND = 1013904223;

    private static final BigInteger ODD = BigInteger.valueOf(Integer.toUnsignedLong(MultiplyAdd.ODD));

    private final long words;
    private long cursor;
    /** In this lap a word ahead of the cursor is its seed times this … */
    private int factor = 1;
    /** … plus this. */
    private int addend;

    /** Memory as {@code fill} leaves it. */
    TrafficMemory(long words) {
        this.words = words;
    }

    /** The next word that will be read. */
    long cursor() {
        return cursor;
    }

    /** Passes over the next {@code count} words, from the end on to the beginning again; returns both sums of what is read. */
    int[] pass(long count) {
        int plain = 0;
        int weighted = 0;
        long left = count;
        while (left > 0) {
            long here = Math.min(left, words - cursor);
            BigInteger n = BigInteger.valueOf(here);
            BigInteger places = sum(cursor + here).subtract(sum(cursor));
            BigInteger squares = squares(cursor + here).subtract(squares(cursor));
            BigInteger weights = places.shiftLeft(1).add(n);
            BigInteger add = BigInteger.valueOf(ADDEND);
            int seeds = ODD.multiply(places).add(add.multiply(n)).intValue();
            int seedsWeighted = ODD.multiply(squares.shiftLeft(1).add(places))
                    .add(add.multiply(weights))
                    .intValue();
            plain += factor * seeds + addend * (int) here;
            weighted += factor * seedsWeighted + addend * weights.intValue();
            cursor += here;
            left -= here;
            if (cursor == words) {
                cursor = 0;
                factor *= FACTOR;
                addend = addend * FACTOR + ADDEND;
            }
        }
        return new int[] {plain, weighted};
    }

    /** What must be in word {@code i} after all passes so far. */
    int word(long i) {
        int now = ((int) i * MultiplyAdd.ODD + ADDEND) * factor + addend;
        return i < cursor ? now * FACTOR + ADDEND : now;
    }

    /** 0 + 1 + … + (n - 1). */
    private static BigInteger sum(long n) {
        return BigInteger.valueOf(n).multiply(BigInteger.valueOf(n - 1)).shiftRight(1);
    }

    /** 0² + 1² + … + (n - 1)². */
    private static BigInteger squares(long n) {
        return sum(n).multiply(BigInteger.valueOf(2 * n - 1)).divide(BigInteger.valueOf(3));
    }
}
