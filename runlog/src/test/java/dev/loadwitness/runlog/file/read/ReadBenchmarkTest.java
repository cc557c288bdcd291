// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import static org.assertj.core.api.Assertions.assertThat;

import org.junit.jupiter.api.Test;

class ReadBenchmarkTest {
    /** Small, so that the benchmark never rots; the figure that is aimed at (0.7) is measured by its main. */
    @Test
    void aWholeReadIsNotFarSlowerThanScanningTokensAndHashing() throws Exception {
        ReadBenchmark.Rates rates = ReadBenchmark.measure(20_000, 3);
        assertThat(rates.ratio()).isGreaterThan(0.35);
    }
}
