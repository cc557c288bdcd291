// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.cpu;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

final class ChaoticBlockTest {
    /** Source of truth: IEEE 754-2008 fusedMultiplyAdd, recomputed by Python's exact fractions. */
    @Test
    void rightResultsAreThoseOfExactArithmetic() throws IOException, InterruptedException {
        List<String> lines = exactArithmetic();
        assertThat(lines).hasSize(ChaoticBlock.SEEDS);
        for (int seed = 0; seed < ChaoticBlock.SEEDS; seed++) {
            String[] columns = lines.get(seed).split(" ", -1);
            assertThat(Long.toHexString(ChaoticBlock.expected(seed))).isEqualTo(stripped(columns[0]));
            // The mean of log|2x| is the orbit's Lyapunov exponent: above 0 the map is chaotic, and no slip can heal.
            assertThat(Double.parseDouble(columns[1])).isGreaterThan(0.3);
        }
    }

    private static String stripped(String hex) {
        return Long.toHexString(Long.parseUnsignedLong(hex, 16));
    }

    private static List<String> exactArithmetic() throws IOException, InterruptedException {
        try (InputStream script = ChaoticBlockTest.class.getResourceAsStream("chaotic_block.py")) {
            Process python = new ProcessBuilder(
                            "python3", "-c", new String(script.readAllBytes(), StandardCharsets.UTF_8))
                    .redirectError(ProcessBuilder.Redirect.INHERIT)
                    .start();
            List<String> lines = new String(python.getInputStream().readAllBytes(), StandardCharsets.US_ASCII)
                    .lines()
                    .toList();
            assertThat(python.waitFor()).isZero();
            return lines;
        }
    }

    @ParameterizedTest
    @ValueSource(ints = {0, 1, 2, 3})
    void thisMachineComputesThemTooInterpretedAndCompiled(int seed) {
        for (int run = 0; run < 300; run++) {
            assertThat(ChaoticBlock.run(seed, 0)).isEqualTo(ChaoticBlock.expected(seed));
        }
    }

    @Test
    void aPlantedBitChangesTheResult() {
        for (int seed = 0; seed < ChaoticBlock.SEEDS; seed++) {
            assertThat(ChaoticBlock.run(seed, ChaoticBlock.PLANTED_BIT)).isNotEqualTo(ChaoticBlock.expected(seed));
        }
    }
}
