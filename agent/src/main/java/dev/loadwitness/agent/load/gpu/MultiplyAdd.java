// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

/**
 * The multiply-add chains of {@code work.cl}, computed on the processor: what the device must have got.
 *
 * <p>Every lane iterates {@code x -> fma(x, factor, PLUS)}, 31 times with {@link #UP}, a little beyond -2, and once with the
 * same times 2^-32, which is exact. So {@code |x|} moves up one power of two at each of 31 steps and comes back at the last,
 * while every step multiplies a deviation, seen in units in the last place of where x then lies, by more than one: two
 * numbers that differ before a step differ after it, and an error cannot heal. After 128 such cycles the chain is folded
 * into a word and begins anew from another of 256 seeds, for otherwise it would drift out of its powers of two. IEEE 754
 * fixes every result to the last bit, on the device as in {@link Math#fma(float, float, float)}.
 *
 * <p>A fold is a bijection of what it had before and of what comes in, so one wrong lane makes its item's word wrong for
 * certain. Items' words are added up twice, plain and times an odd number of their own: one wrong item shows for certain
 * in either sum, several escape both with a probability of about 2^-64.
 */
final class MultiplyAdd {
    static final int CHAINS = 8;
    static final int VARIANTS = 256;
    static final int CYCLES_A_SEED = 128;
    static final int STEPS_A_CYCLE = 32;
    static final int ODD = 0x9E3779B1;

    /** -(2 + 2.5e-4), the same times 2^-32, and -0.0061, each the nearest float. */
    static final float UP = Float.intBitsToFloat(0xC0000419);

    static final float DOWN = Float.intBitsToFloat(0xB0000419);
    static final float PLUS = Float.intBitsToFloat(0xBBC7E282);

    private static final int NEXT_VARIANT = 37;

    /** Bits of each variant's x after 0, 1, … 128 cycles. */
    private final int[][] bits = new int[VARIANTS][CYCLES_A_SEED + 1];

    private final int width;

    /**
     * Computes all chains once.
     *
     * @param width floats in a vector of the device's program; a power of two up to 16
     */
    MultiplyAdd(int width) {
        this.width = width;
        for (int variant = 0; variant < VARIANTS; variant++) {
            float x = seed(variant);
            bits[variant][0] = Float.floatToRawIntBits(x);
            for (int cycle = 1; cycle <= CYCLES_A_SEED; cycle++) {
                x = cycle(x);
                bits[variant][cycle] = Float.floatToRawIntBits(x);
            }
        }
    }

    /** Between 1.2 and 1.36, exact. */
    static float seed(int variant) {
        return Float.intBitsToFloat(0x3F800000 + (variant * 5 + 1640) * 1024);
    }

    static float cycle(float start) {
        float x = start;
        for (int step = 1; step < STEPS_A_CYCLE; step++) {
            x = Math.fma(x, UP, PLUS);
        }
        return Math.fma(x, DOWN, PLUS);
    }

    /** Floating-point operations of one item in one cycle, a multiply-add counted as two. */
    int operationsACycle() {
        return 2 * STEPS_A_CYCLE * CHAINS * width;
    }

    /** After how many items the seeds repeat. */
    int period() {
        return Math.max(1, VARIANTS / (CHAINS * width));
    }

    /** The word that an item ends with after so many cycles. */
    int word(int item, long cycles) {
        int[] folds = new int[width];
        for (int lane = 0; lane < width; lane++) {
            int variant = item * CHAINS * width + lane;
            int fold = 0;
            for (long left = cycles; left >= 0; left -= CYCLES_A_SEED) {
                int now = (int) Math.min(left, CYCLES_A_SEED);
                for (int chain = 0; chain < CHAINS; chain++) {
                    fold = fold(fold, bits[(variant + chain * width) & (VARIANTS - 1)][now]);
                }
                variant += NEXT_VARIANT;
            }
            folds[lane] = fold;
        }
        if (width == 1) {
            return folds[0];
        }
        int word = 0;
        for (int fold : folds) {
            word = Integer.rotateLeft(word ^ fold, 7) * ODD + 1;
        }
        return word;
    }

    private static int fold(int before, int x) {
        return Integer.rotateLeft(before ^ x, 13) * ODD + 1;
    }

    /** The words of all items of a launch, added up: plain, and each times (2 item + 1). */
    int[] sums(int items, long cycles) {
        int[] words = words(cycles);
        int plain = 0;
        int weighted = 0;
        for (int p = 0; p < words.length && p < items; p++) {
            long count = ((long) items - p + words.length - 1) / words.length;
            // item = p, p + period, p + 2 period, …
            long weights = count * (2L * p + 1) + words.length * (count * (count - 1));
            plain += words[p] * (int) count;
            weighted += words[p] * (int) weights;
        }
        return new int[] {plain, weighted};
    }

    /** The words of the first {@link #period} items; all others repeat them. */
    int[] words(long cycles) {
        int[] words = new int[period()];
        for (int item = 0; item < words.length; item++) {
            words[item] = word(item, cycles);
        }
        return words;
    }
}
