// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.cpu;

import static org.assertj.core.api.Assertions.assertThat;

import java.math.BigDecimal;
import java.math.BigInteger;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

final class ArithmeticRoundTest {
    private static final BigInteger WORD = BigInteger.ONE.shiftLeft(64);
    private static final BigInteger ODD = new BigInteger("9E3779B97F4A7C15", 16);

    /**
     * The other route: exact arithmetic, one lane after the other, each floating-point operation rounded once. A second
     * one, with Python's fractions, gave the same four constants when they were made.
     */
    @ParameterizedTest
    @ValueSource(ints = {0, 1, 2, 3})
    void constantsInTheSourceAreWhatExactArithmeticGives(int variant) {
        BigInteger sum = BigInteger.valueOf(variant);
        for (int lane = 0; lane < ArithmeticRound.LANES; lane++) {
            long x = Double.doubleToRawLongBits(exactFloatingLane(ArithmeticRound.seed(variant, lane)));
            BigInteger mixed = sum.xor(unsigned(x));
            BigInteger rotated =
                    mixed.shiftLeft(29).or(mixed.shiftRight(64 - 29)).mod(WORD);
            sum = rotated.multiply(ODD)
                    .add(exactIntegerLane(variant * ArithmeticRound.LANES + lane))
                    .mod(WORD);
        }

        assertThat(sum.longValue()).isEqualTo(ArithmeticRound.expected(variant));
    }

    @Test
    void theFastRoundGivesTheConstantsBeforeAndAfterItIsCompiled() {
        ArithmeticRound round = new ArithmeticRound();
        for (int repeat = 0; repeat < 5000; repeat++) {
            int variant = repeat % ArithmeticRound.VARIANTS;
            assertThat(round.run(variant)).as("round %d", repeat).isEqualTo(ArithmeticRound.expected(variant));
        }
    }

    /** Every bit of a lane, at every pass, in lanes spread over the array: no deviation is rounded away or squared away. */
    @Test
    void everyFlippedBitAtEveryPassChangesTheChecksum() {
        ArithmeticRound round = new ArithmeticRound();
        int flips = 0;
        for (int pass = 0; pass < ArithmeticRound.PASSES; pass++) {
            for (int bit = 0; bit < Long.SIZE; bit++) {
                for (int lane = 0; lane < ArithmeticRound.LANES; lane += 23) {
                    int variant = (pass + bit + lane) % ArithmeticRound.VARIANTS;
                    assertThat(round.run(variant, pass, lane, 1L << bit))
                            .as("pass %d, bit %d, lane %d, variant %d", pass, bit, lane, variant)
                            .isNotEqualTo(ArithmeticRound.expected(variant));
                    flips++;
                }
            }
        }
        assertThat(flips).isEqualTo(16 * 64 * 23);
    }

    /** What the argument in the class's description rests on. */
    @Test
    void everyLaneMovesUpOnePowerOfTwoAtEachStep() {
        for (int variant = 0; variant < ArithmeticRound.VARIANTS; variant++) {
            for (int lane = 0; lane < ArithmeticRound.LANES; lane++) {
                double x = ArithmeticRound.seed(variant, lane);
                for (int step = 0; step < ArithmeticRound.PASSES * ArithmeticRound.STEPS_EACH_PASS; step++) {
                    assertThat(Math.getExponent(x)).isEqualTo(step);
                    x = Math.fma(x, ArithmeticRound.M, ArithmeticRound.C);
                }
            }
        }
    }

    @Test
    void aPlantedMiscomputationIsAlwaysSeen() {
        ArithmeticRound round = new ArithmeticRound();
        for (int variant = 0; variant < ArithmeticRound.VARIANTS; variant++) {
            assertThat(round.runPlanted(variant)).isNotEqualTo(ArithmeticRound.expected(variant));
        }
    }

    private static double exactFloatingLane(double seed) {
        BigDecimal m = new BigDecimal(ArithmeticRound.M);
        BigDecimal c = new BigDecimal(ArithmeticRound.C);
        BigDecimal x = new BigDecimal(seed);
        for (int step = 0; step < ArithmeticRound.PASSES * ArithmeticRound.STEPS_EACH_PASS; step++) {
            x = new BigDecimal(x.multiply(m).add(c).doubleValue()); // doubleValue rounds to nearest, once
        }
        return x.doubleValue();
    }

    private static BigInteger exactIntegerLane(int start) {
        BigInteger n = BigInteger.valueOf(start);
        for (int pass = 0; pass < ArithmeticRound.PASSES; pass++) {
            n = n.multiply(ODD).add(BigInteger.ONE).mod(WORD);
            n = n.xor(n.shiftRight(32));
            n = n.multiply(ODD).add(BigInteger.ONE).mod(WORD);
            n = n.xor(n.shiftRight(29));
        }
        return n;
    }

    private static BigInteger unsigned(long word) {
        return new BigInteger(Long.toUnsignedString(word));
    }
}
