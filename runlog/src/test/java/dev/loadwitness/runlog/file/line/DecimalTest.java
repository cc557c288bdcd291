// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.file.read.Example;
import java.math.BigDecimal;
import java.util.Random;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

class DecimalTest {
    /** 2.0E-3 and 1.0E23 are among the cases of JDK-4511638 (number from memory); the rest is the format's promise. */
    @ParameterizedTest
    @CsvSource({
        "61.5, 61.5",
        "1, 1",
        "-0.25, -0.25",
        "0, 0",
        "-0.0, -0.0",
        "0.002, 0.002",
        "100, 100",
        "0.1, 0.1",
        "1e15, 1000000000000000",
        "9007199254740991, 9007199254740991",
        "1e23, 1E+23",
        "2e-44, 2E-44",
        "4.9e-324, 5E-324",
        "-12345678901.125, -12345678901.125"
    })
    void writesTheFewestDigits(double value, String text) {
        assertThat(Decimal.text(value)).isEqualTo(text);
    }

    @Test
    void everyDoubleReadsBackAsItselfAndNoShorterThanJavaWouldWriteIt() {
        long seed = Long.getLong("seed", 13);
        Random random = new Random(seed);
        for (int i = 0; i < 30_000; i++) {
            double value = i % 2 == 0 ? Double.longBitsToDouble(random.nextLong()) : Example.value(random);
            if (!Double.isFinite(value)) {
                continue;
            }
            String text = Decimal.text(value);
            assertThat(Double.parseDouble(text)).as("seed %d: %s", seed, text).isEqualTo(value);
            assertThat(digits(text)).as("seed %d: %s", seed, text).isLessThanOrEqualTo(digits(Double.toString(value)));
        }
    }

    private static int digits(String text) {
        return new BigDecimal(text).stripTrailingZeros().precision();
    }
}
