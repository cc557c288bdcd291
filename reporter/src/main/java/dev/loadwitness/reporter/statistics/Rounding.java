// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.statistics;

import java.math.BigDecimal;
import java.math.RoundingMode;

/**
 * Numbers as people read them: no more digits than the uncertainty supports, decimal point always a point, never an exponent,
 * the same on every machine. Halves are rounded away from zero, on the decimal digits of the number, not on its binary ones.
 */
public final class Rounding {
    private Rounding() {}

    /** Value and uncertainty as text, both to the same decimal place. */
    public record Rounded(String value, String uncertainty) {}

    /**
     * Rounds the uncertainty to two significant digits when its first is 1 or 2, else to one, and the value to the same place
     * (GUM 7.2.6 asks for at most two; the choice between one and two is common practice). With uncertainty 0 the value keeps
     * all its digits.
     *
     * @throws IllegalArgumentException when a number is not finite or the uncertainty is negative
     */
    public static Rounded withUncertainty(double value, double uncertainty) {
        Numbers.requireFinite(value, "value");
        Numbers.requireNotNegative(uncertainty, "uncertainty");
        BigDecimal exactValue = BigDecimal.valueOf(value);
        if (uncertainty == 0) {
            return new Rounded(exactValue.stripTrailingZeros().toPlainString(), "0");
        }
        BigDecimal exact = BigDecimal.valueOf(uncertainty);
        int firstDigit = exact.unscaledValue().toString().charAt(0) - '0';
        int digits = firstDigit <= 2 ? 2 : 1;
        int places = exact.scale() - exact.precision() + digits;
        return new Rounded(text(exactValue, places), text(exact, places));
    }

    /**
     * Rounds to a set number of decimal places.
     *
     * @param places digits after the point, 0 or more
     */
    public static String toPlaces(double value, int places) {
        Numbers.requireFinite(value, "value");
        Numbers.requireNotNegative(places, "decimal places");
        return text(BigDecimal.valueOf(value), places);
    }

    private static String text(BigDecimal value, int places) {
        return value.setScale(places, RoundingMode.HALF_UP).toPlainString();
    }
}
