// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;
import static org.assertj.core.api.Assertions.assertThatIllegalStateException;
import static org.assertj.core.api.Assertions.within;

import java.util.Random;
import org.junit.jupiter.api.RepeatedTest;
import org.junit.jupiter.api.RepetitionInfo;
import org.junit.jupiter.api.Test;

final class BlockMeansTest {
    private static final long SECOND = 1_000_000_000L;
    private static final long ORIGIN = 5 * SECOND;

    private static BlockMeans minutesAtOneHertz() {
        return new BlockMeans(ORIGIN, 60 * SECOND, SECOND, 0.9);
    }

    @Test
    void highestMinuteIsFoundWithItsStart() {
        BlockMeans means = minutesAtOneHertz();
        for (int s = 0; s < 300; s++) {
            // Minute 3 runs at 80 and 82; minute 1 has the highest single reading but not the highest mean.
            double value = s / 60 == 3 ? 80 + 2 * (s % 2) : s == 70 ? 95 : 60;
            means.add(ORIGIN + s * SECOND, value);
        }
        BlockMeans.Result result = means.finish();
        assertThat(result.highest()).contains(new BlockMeans.Block(ORIGIN + 180 * SECOND, 60 * SECOND, 60, 81));
        assertThat(result.lowest()).contains(new BlockMeans.Block(ORIGIN, 60 * SECOND, 60, 60));
        assertThat(result.completeBlocks()).isEqualTo(5);
        assertThat(result.incompleteBlocks()).isZero();
        assertThat(result.keptMeans()).hasSize(5);
    }

    @Test
    void blockWithTooFewSamplesIsNotUsed() {
        BlockMeans means = minutesAtOneHertz();
        fill(means, 0, 60, 60);
        fill(means, 60, 60 + 53, 99); // 53 of 60 is below 90 %
        fill(means, 120, 120 + 54, 70); // 54 of 60 is 90 %
        BlockMeans.Result result = means.finish();
        assertThat(result.highest())
                .hasValueSatisfying(b -> assertThat(b.mean()).isEqualTo(70));
        assertThat(result.completeBlocks()).isEqualTo(2);
        assertThat(result.incompleteBlocks()).isEqualTo(1);
        assertThat(result.keptMeans()).containsExactly(60, 70);
    }

    @Test
    void blocksWithoutAnySampleCountAsIncomplete() {
        BlockMeans means = minutesAtOneHertz();
        fill(means, 180, 240, 60);
        fill(means, 360, 420, 61);
        BlockMeans.Result result = means.finish();
        assertThat(result.completeBlocks()).isEqualTo(2);
        assertThat(result.incompleteBlocks()).isEqualTo(5);
    }

    @Test
    void sampleOnTheBorderBelongsToTheLaterBlock() {
        BlockMeans means = new BlockMeans(0, 10, 5, 1);
        means.add(0, 1);
        means.add(5, 1);
        means.add(10, 7);
        means.add(15, 7);
        assertThat(means.finish().keptMeans()).containsExactly(1, 7);
    }

    @Test
    void repeatedOrEarlierSamplesCannotFillABlock() {
        BlockMeans means = minutesAtOneHertz();
        means.add(ORIGIN - 1, 99);
        means.add(ORIGIN + SECOND, 99);
        for (int i = 0; i < 100; i++) {
            means.add(ORIGIN + SECOND, 99);
            means.add(ORIGIN, 99);
        }
        BlockMeans.Result result = means.finish();
        assertThat(result.highest()).isEmpty();
        assertThat(result.samplesLeftOut()).isEqualTo(201);
        assertThat(result.incompleteBlocks()).isEqualTo(1);
    }

    @Test
    void earliestOfEqualBlocksIsReported() {
        BlockMeans means = minutesAtOneHertz();
        fill(means, 0, 180, 60);
        BlockMeans.Result result = means.finish();
        assertThat(result.highest().orElseThrow().startNanos()).isEqualTo(ORIGIN);
        assertThat(result.lowest().orElseThrow().startNanos()).isEqualTo(ORIGIN);
    }

    @Test
    void noSamplesGiveNoBlocks() {
        BlockMeans.Result result = minutesAtOneHertz().finish();
        assertThat(result.highest()).isEmpty();
        assertThat(result.lowest()).isEmpty();
        assertThat(result.completeBlocks()).isZero();
        assertThat(result.incompleteBlocks()).isZero();
        assertThat(result.kept()).isEmpty();
        assertThat(result.keptBlockNanos()).isEqualTo(60 * SECOND);
    }

    @Test
    void sixHundredBlocksAreKeptOneByOneAndOneMoreJoinsThemInPairs() {
        for (int blocks : new int[] {600, 601}) {
            BlockMeans means = new BlockMeans(0, 10, 10, 1);
            for (int i = 0; i < blocks; i++) {
                means.add(10L * i, i);
            }
            BlockMeans.Result result = means.finish();
            assertThat(result.completeBlocks()).isEqualTo(blocks);
            assertThat(result.keptBlockNanos()).isEqualTo(blocks == 600 ? 10 : 20);
            // The 601st has no neighbour yet: as half of a double block it is incomplete.
            assertThat(result.kept()).hasSize(blocks == 600 ? 600 : 300);
            assertThat(result.kept().get(1))
                    .isEqualTo(
                            blocks == 600 ? new BlockMeans.Block(10, 10, 1, 1) : new BlockMeans.Block(20, 20, 2, 2.5));
            assertThat(result.highest()).contains(new BlockMeans.Block(10L * (blocks - 1), 10, 1, blocks - 1));
        }
    }

    @RepeatedTest(10)
    void keptBlocksAreThoseThatLongerWindowsWouldHaveGiven(RepetitionInfo repetition) {
        Random random = new Random(repetition.getCurrentRepetition());
        int samples = 3000 + random.nextInt(40_000);
        long[] times = new long[samples];
        double[] values = new double[samples];
        long time = ORIGIN;
        for (int i = 0; i < samples; i++) {
            // Jitter, lost samples, and now and then a gap of up to 300 s.
            time += SECOND + random.nextInt(1000) + (random.nextInt(10) == 0 ? SECOND : 0);
            time += random.nextInt(500) == 0 ? random.nextInt(300) * SECOND : 0;
            times[i] = time;
            values[i] = 70 + random.nextGaussian();
        }
        BlockMeans.Result joined = fed(new BlockMeans(ORIGIN, 10 * SECOND, SECOND, 0.8), times, values);
        BlockMeans.Result direct = fed(new BlockMeans(ORIGIN, joined.keptBlockNanos(), SECOND, 0.8), times, values);
        assertThat(joined.kept().size()).isBetween(1, BlockMeans.KEPT_MAXIMUM);
        assertThat(direct.keptBlockNanos()).isEqualTo(joined.keptBlockNanos());
        assertThat(joined.kept()).hasSameSizeAs(direct.kept());
        for (int i = 0; i < joined.kept().size(); i++) {
            BlockMeans.Block a = joined.kept().get(i);
            BlockMeans.Block b = direct.kept().get(i);
            assertThat(a.startNanos()).isEqualTo(b.startNanos());
            assertThat(a.samples()).isEqualTo(b.samples());
            assertThat(a.mean()).isCloseTo(b.mean(), within(1e-11));
        }
    }

    @Test
    void lonelySamplesFarApartStayWithinTheMemory() {
        BlockMeans means = new BlockMeans(0, 10, 10, 1);
        for (int i = 0; i < 5000; i++) {
            means.add(i * 80L, i); // one window in eight
        }
        means.add(Long.MAX_VALUE, 1);
        BlockMeans.Result result = means.finish();
        assertThat(result.kept().size()).isLessThanOrEqualTo(BlockMeans.KEPT_MAXIMUM);
        assertThat(result.completeBlocks()).isEqualTo(5001);
    }

    @Test
    void nonsenseIsRefused() {
        assertThatIllegalArgumentException()
                .isThrownBy(() -> minutesAtOneHertz().add(ORIGIN, Double.NaN));
        assertThatIllegalArgumentException().isThrownBy(() -> new BlockMeans(-1, 10, 1, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> new BlockMeans(0, 0, 1, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> new BlockMeans(0, 10, 11, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> new BlockMeans(0, 10, 1, 1.01));
        assertThatIllegalArgumentException().isThrownBy(() -> new BlockMeans(0, 10, 1, Double.NaN));
    }

    @Test
    void nothingCanBeAddedAfterTheEnd() {
        BlockMeans means = minutesAtOneHertz();
        means.finish();
        assertThatIllegalStateException().isThrownBy(() -> means.add(ORIGIN, 1));
        assertThatIllegalStateException().isThrownBy(means::finish);
    }

    private static void fill(BlockMeans means, int fromSecond, int toSecond, double value) {
        for (int s = fromSecond; s < toSecond; s++) {
            means.add(ORIGIN + s * SECOND, value);
        }
    }

    private static BlockMeans.Result fed(BlockMeans means, long[] times, double[] values) {
        for (int i = 0; i < times.length; i++) {
            means.add(times[i], values[i]);
        }
        return means.finish();
    }
}
