// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import static org.assertj.core.api.Assertions.assertThat;

import com.sun.management.ThreadMXBean;
import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.linux.file.Tree;
import java.lang.management.ManagementFactory;
import java.nio.file.Path;
import java.time.Duration;
import java.util.Arrays;
import java.util.Locale;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/**
 * Prints what one full reading of a laptop costs, on ordinary files in place of the kernel's: the price of our side, not
 * of the drivers. Garbage is asserted, since it does not depend on the machine; time is printed only.
 */
class SensorCostTest {
    private static final int WARM_UP = 1_000;
    private static final int ROUNDS = 1_000;

    @Test
    void fullReadingLeavesLittleGarbage(@TempDir Path folder) throws Exception {
        Tree tree = new Tree(folder);
        FullLaptop.build(tree);
        Discovery found = tree.discover();
        int channels = found.channels().size();
        ThreadMXBean threads = (ThreadMXBean) ManagementFactory.getThreadMXBean();
        double[] values = new double[channels];

        for (int i = 0; i < WARM_UP; i++) {
            readAll(found, values);
        }
        long before = threads.getThreadAllocatedBytes(Thread.currentThread().getId());
        long began = System.nanoTime();
        for (int i = 0; i < ROUNDS; i++) {
            readAll(found, values);
        }
        long sourceNanos = (System.nanoTime() - began) / ROUNDS;
        long sourceBytes =
                (threads.getThreadAllocatedBytes(Thread.currentThread().getId()) - before) / ROUNDS;
        long answered = Arrays.stream(values).filter(v -> !Double.isNaN(v)).count();

        for (Source source : found.sources()) {
            long[] reads = new long[ROUNDS];
            for (int i = 0; i < ROUNDS; i++) {
                began = System.nanoTime();
                source.read(values, 0);
                reads[i] = System.nanoTime() - began;
            }
            Arrays.sort(reads);
            System.out.printf(
                    Locale.ROOT,
                    "| %s | %d | %.0f us | %.0f us |%n",
                    source.name(),
                    source.channels().size(),
                    reads[ROUNDS / 2] / 1e3,
                    reads[ROUNDS * 99 / 100] / 1e3);
        }

        long[] takes = new long[ROUNDS];
        long bankBytes;
        try (SensorBank bank = new SensorBank(found.sources(), Duration.ofMillis(400))) {
            for (int i = 0; i < WARM_UP; i++) {
                bank.take(i);
            }
            before = threads.getThreadAllocatedBytes(Thread.currentThread().getId());
            for (int i = 0; i < ROUNDS; i++) {
                began = System.nanoTime();
                bank.take(i);
                takes[i] = System.nanoTime() - began;
            }
            bankBytes = (threads.getThreadAllocatedBytes(Thread.currentThread().getId()) - before) / ROUNDS;
        }
        Arrays.sort(takes);
        System.out.printf(
                Locale.ROOT,
                "%d channels of %d sources: reading them one after the other %.1f us and %d B of garbage;"
                        + " SensorBank.take median %.1f us, p99 %.1f us, %d B in the sampling thread%n",
                channels,
                found.sources().size(),
                sourceNanos / 1e3,
                sourceBytes,
                takes[ROUNDS / 2] / 1e3,
                takes[ROUNDS * 99 / 100] / 1e3,
                bankBytes);
        assertThat(channels).isGreaterThanOrEqualTo(60);
        assertThat(answered)
                .as("all but the share of time, whose file does not move")
                .isEqualTo(channels - 1);
        assertThat(sourceBytes).isLessThan(2_000);
        assertThat(bankBytes)
                .as("one array, one record, and what waiting takes")
                .isLessThan(4_000);
    }

    private static void readAll(Discovery found, double[] values) throws Exception {
        int from = 0;
        for (Source source : found.sources()) {
            source.read(values, from);
            from += source.channels().size();
        }
    }
}
