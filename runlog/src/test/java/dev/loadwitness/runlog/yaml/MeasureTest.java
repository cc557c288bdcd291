// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import static org.assertj.core.api.Assertions.assertThat;

import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;
import org.junit.jupiter.params.provider.EnumSource;

final class MeasureTest {
    @ParameterizedTest
    @CsvSource({
        "DURATION, 3600, 1 h",
        "DURATION, 5400, 90 min",
        "DURATION, 90, 90 s",
        "DURATION, 0, 0 s",
        "DURATION, 0.1, 100 ms",
        "DURATION, 1.5, 1500 ms",
        "SHARE, 0.85, 85 %",
        "SHARE, 0.995, 99.5 %",
        "SHARE, 1, 100 %",
        "SHARE, 0, 0 %",
        "TEMPERATURE, 92.5, 92.5 Cel",
        "TEMPERATURE, -5, -5 Cel",
        "TEMPERATURE_DIFFERENCE, 5, 5 K",
        "THERMAL_RESISTANCE, 0.42, 0.42 K/W",
        "COUNT, 1000000, 1000000",
        "FACTOR, 0.83, 0.83",
        "RESISTANCE, 0.4, 400 mOhm"
    })
    void numbersAreWrittenInTheBiggestUnitThatLeavesThemWhole(Measure measure, double value, String written) {
        assertThat(measure.write(value)).isEqualTo(written);
    }

    @ParameterizedTest
    @EnumSource
    void whatIsWrittenIsReadBackAsTheSameNumber(Measure measure) {
        for (double value : new double[] {0, 1, 2, 60, 3600, 86_400}) {
            Reading reading = new Reading();
            Located.Text text = new Located.Text(1, 1, measure.write(value));

            assertThat(reading.number(text, "it", measure, 0, 1e6)).hasValue(value);
            assertThat(reading.problems()).isEmpty();
        }
    }

    @ParameterizedTest
    @EnumSource
    void everyExampleThatAMessageGivesWouldHaveWorked(Measure measure) {
        for (String example : measure.examples().split(", | or ", -1)) {
            Reading reading = new Reading();

            assertThat(reading.number(new Located.Text(1, 1, example), "it", measure, 0, 1e6))
                    .as(example)
                    .isPresent();
        }
    }

    @Test
    void shareIsExactlyTheFractionThatIsMeant() {
        assertThat(new Reading().number(new Located.Text(1, 1, "85 %"), "it", Measure.SHARE, 0, 1))
                .hasValue(0.85);
    }

    @ParameterizedTest
    @CsvSource({
        "1e3 s",
        "0x10 s",
        "1_000 s",
        "NaN s",
        "Infinity s",
        "'1 000 s'",
        "'1,000 s'",
        "٣ s",
        "--1 s",
        "1. s",
        ".5 s"
    })
    void numbersInOtherNotationsAreRefused(String given) {
        Reading reading = new Reading();

        assertThat(reading.number(new Located.Text(1, 1, given), "it", Measure.DURATION, 0, 1e9))
                .isEmpty();
        assertThat(reading.problems()).hasSize(1);
    }
}
