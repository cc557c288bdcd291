// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatIllegalArgumentException;

import java.util.Locale;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

final class RoundingTest {

    /** The first row has the figures of the mass in GUM 7.2.2; the others are worked by hand from the rule. */
    @ParameterizedTest(name = "{0} and {1}: {2} ± {3}")
    @CsvSource({
        "100.02147,    0.00035,   100.0215,  0.0004",
        "84.2749,      0.16,      84.27,     0.16",
        "84.2749,      0.296,     84.27,     0.30",
        "84.2749,      0.3,       84.3,      0.3",
        "84.2749,      0.96,      84.3,      1.0",
        "84.2749,      2,         84.3,      2.0",
        "84.2749,      9.6,       84,        10",
        "1234.5,       296,       1230,      300",
        "1234.5,       5000,      1000,      5000",
        "234.5,        5000,      0,         5000",
        "-0.004,       0.5,       0.0,       0.5",
        "-84.25,       0.5,       -84.3,     0.5",
        "2.675,        0.03,      2.68,      0.03",
        "0,            0.012,     0.000,     0.012",
        "1.0E-5,       2.0E-6,    0.0000100, 0.0000020",
        "12300000,     1.0E6,     12300000,  1000000",
        "71.30,        0,         71.3,      0",
        "100,          0,         100,       0",
        "-0.0,         0,         0,         0"
    })
    void valueKeepsTheDigitsThatItsUncertaintySupports(
            double value, double uncertainty, String valueText, String uncertaintyText) {
        assertThat(Rounding.withUncertainty(value, uncertainty))
                .isEqualTo(new Rounding.Rounded(valueText, uncertaintyText));
    }

    @ParameterizedTest(name = "{0} to {1} places: {2}")
    @CsvSource({
        "95.0213, 1, 95.0",
        "0.125, 2, 0.13",
        "-0.125, 2, -0.13",
        "-0.04, 1, 0.0",
        "1.0E20, 0, 100000000000000000000",
        "4.9E-324, 2, 0.00"
    })
    void setNumberOfPlacesIsKept(double value, int places, String text) {
        assertThat(Rounding.toPlaces(value, places)).isEqualTo(text);
    }

    @Test
    void textIsTheSameInEveryLocale() {
        Locale before = Locale.getDefault();
        try {
            for (String tag : new String[] {"de-DE", "ar-EG-u-nu-arab", "hi-IN-u-nu-deva"}) {
                Locale.setDefault(Locale.forLanguageTag(tag));
                assertThat(Rounding.withUncertainty(71.34, 0.5)).isEqualTo(new Rounding.Rounded("71.3", "0.5"));
                assertThat(Rounding.toPlaces(1071.34, 1)).isEqualTo("1071.3");
            }
        } finally {
            Locale.setDefault(before);
        }
    }

    @Test
    void nonsenseIsRefused() {
        assertThatIllegalArgumentException().isThrownBy(() -> Rounding.withUncertainty(Double.NaN, 1));
        assertThatIllegalArgumentException().isThrownBy(() -> Rounding.withUncertainty(1, Double.NaN));
        assertThatIllegalArgumentException().isThrownBy(() -> Rounding.withUncertainty(1, -1));
        assertThatIllegalArgumentException().isThrownBy(() -> Rounding.toPlaces(1, -1));
        assertThatIllegalArgumentException().isThrownBy(() -> Rounding.toPlaces(Double.POSITIVE_INFINITY, 1));
    }
}
