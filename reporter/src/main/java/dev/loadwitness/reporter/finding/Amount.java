// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

/**
 * A number with its unit, and with how many digits it is printed.
 *
 * @param held as the rules reckon: a share where the unit is told in hundredths; need not be finite
 */
public record Amount(double held, Unit unit, Digits digits) {
    /** How a number is rounded for print. */
    public enum Digits {
        WHOLE,
        TENTHS,
        HUNDREDTHS,
        THOUSANDTHS,
        /** Whole, with a comma between thousands. */
        GROUPED,
        /** As it was written: up to four decimals, without the noise of a difference. */
        AS_WRITTEN,
        /** As an uncertainty: one significant digit, or two where the first is 1 or 2. */
        SIGNIFICANT,
        /** Hours, minutes and seconds, rounded down: a promise is not rounded up. */
        TIME
    }

    /** The number in its unit, not rounded. */
    public double number() {
        return held * unit.scale();
    }

    public static Amount percent(double share) {
        return new Amount(share, Unit.PERCENT, Digits.TENTHS);
    }

    public static Amount watts(double watts) {
        return new Amount(watts, Unit.WATT, Digits.WHOLE);
    }

    public static Amount celsius(double celsius) {
        return new Amount(celsius, Unit.CELSIUS, Digits.TENTHS);
    }

    public static Amount kelvin(double kelvin) {
        return new Amount(kelvin, Unit.KELVIN, Digits.TENTHS);
    }

    public static Amount kelvinPerWatt(double kelvinPerWatt) {
        return new Amount(kelvinPerWatt, Unit.KELVIN_PER_WATT, Digits.THOUSANDTHS);
    }

    public static Amount volts(double volts) {
        return new Amount(volts, Unit.VOLT, Digits.AS_WRITTEN);
    }

    public static Amount pointsPerHour(double sharePerHour) {
        return new Amount(sharePerHour, Unit.POINTS_PER_HOUR, Digits.TENTHS);
    }

    public static Amount time(double seconds) {
        return new Amount(seconds, Unit.SECOND, Digits.TIME);
    }

    public static Amount count(long count) {
        return new Amount((double) count, Unit.COUNT, Digits.WHOLE);
    }
}
