// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import static org.assertj.core.api.Assertions.assertThat;

import java.math.BigDecimal;
import java.util.HashSet;
import java.util.Set;
import org.junit.jupiter.api.Test;

final class MultiplyAddTest {
    /** What the argument that no error heals rests on. */
    @Test
    void everyChainMovesUpOneBinadeAtEachStepAndComesBackEachCycle() {
        for (int variant = 0; variant < MultiplyAdd.VARIANTS; variant++) {
            float x = MultiplyAdd.seed(variant);
            for (int cycle = 0; cycle < MultiplyAdd.CYCLES_A_SEED; cycle++) {
                for (int step = 0; step < MultiplyAdd.STEPS_A_CYCLE; step++) {
                    assertThat(Math.getExponent(x))
                            .as("variant %d cycle %d step %d", variant, cycle, step)
                            .isEqualTo(step);
                    x = Math.fma(
                            x,
                            step < MultiplyAdd.STEPS_A_CYCLE - 1 ? MultiplyAdd.UP : MultiplyAdd.DOWN,
                            MultiplyAdd.PLUS);
                }
            }
        }
        assertThat(new BigDecimal(MultiplyAdd.DOWN).multiply(BigDecimal.valueOf(1L << 32)))
                .isEqualByComparingTo(new BigDecimal(MultiplyAdd.UP));
        assertThat(Math.abs(MultiplyAdd.UP)).isGreaterThan(2);
    }

    @Test
    void aChainIsWhatExactArithmeticRoundedOnceAStepGives() {
        float x = MultiplyAdd.seed(200);
        BigDecimal exact = new BigDecimal(x);
        for (int step = 0; step < MultiplyAdd.STEPS_A_CYCLE; step++) {
            float factor = step < MultiplyAdd.STEPS_A_CYCLE - 1 ? MultiplyAdd.UP : MultiplyAdd.DOWN;
            exact = exact.multiply(new BigDecimal(factor)).add(new BigDecimal(MultiplyAdd.PLUS));
            exact = new BigDecimal(exact.floatValue());
        }
        assertThat(MultiplyAdd.cycle(x)).isEqualTo(exact.floatValue());
    }

    @Test
    void everyFlippedBitIsStillSeenAtTheEndOfTheCycles() {
        for (int variant = 0; variant < MultiplyAdd.VARIANTS; variant += 51) {
            for (int at = 0; at < MultiplyAdd.CYCLES_A_SEED; at += 9) {
                for (int bit = 0; bit < Float.SIZE; bit++) {
                    float right = MultiplyAdd.seed(variant);
                    float wrong = right;
                    for (int cycle = 0; cycle < MultiplyAdd.CYCLES_A_SEED; cycle++) {
                        if (cycle == at) {
                            wrong = Float.intBitsToFloat(Float.floatToRawIntBits(wrong) ^ (1 << bit));
                        }
                        right = MultiplyAdd.cycle(right);
                        wrong = MultiplyAdd.cycle(wrong);
                    }
                    assertThat(Float.floatToRawIntBits(wrong))
                            .as("variant %d, bit %d flipped before cycle %d", variant, bit, at)
                            .isNotEqualTo(Float.floatToRawIntBits(right));
                }
            }
        }
    }

    @Test
    void sumsOfALaunchAreTheSumsOfItsItems() {
        for (int width : new int[] {1, 8, 16}) {
            MultiplyAdd arithmetic = new MultiplyAdd(width);
            for (long cycles : new long[] {0, 1, 127, 128, 129, 1000}) {
                int plain = 0;
                int weighted = 0;
                int items = 77;
                Set<Integer> words = new HashSet<>();
                for (int item = 0; item < items; item++) {
                    int word = arithmetic.word(item, cycles);
                    words.add(word);
                    plain += word;
                    weighted += word * (2 * item + 1);
                }
                assertThat(arithmetic.sums(items, cycles)).containsExactly(plain, weighted);
                assertThat(words).hasSize(Math.min(items, arithmetic.period()));
            }
        }
    }
}
