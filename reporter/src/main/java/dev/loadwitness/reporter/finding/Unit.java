// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.finding;

/** Units of findings: the UCUM code for programs, and the sign that people read after a number. */
public enum Unit {
    COUNT("1", ""),
    /** Held as a share, 1 for the whole; told in hundredths. */
    PERCENT("%", "%", 100),
    /** Shares of a full battery an hour, told in hundredths. */
    POINTS_PER_HOUR("%/h", "points/h", 100),
    CELSIUS("Cel", "°C"),
    KELVIN("K", "K"),
    KELVIN_PER_WATT("K/W", "K/W"),
    WATT("W", "W"),
    VOLT("V", "V"),
    SECOND("s", "s");

    private final String ucum;
    private final String sign;
    private final double scale;

    Unit(String ucum, String sign) {
        this(ucum, sign, 1);
    }

    Unit(String ucum, String sign, double scale) {
        this.ucum = ucum;
        this.sign = sign;
        this.scale = scale;
    }

    /** The code of the Unified Code for Units of Measure. */
    public String ucum() {
        return ucum;
    }

    String sign() {
        return sign;
    }

    /** What a number is multiplied by to be told. */
    double scale() {
        return scale;
    }

    /** The unit of a difference: two temperatures in degrees Celsius lie kelvins apart. */
    public Unit difference() {
        return this == CELSIUS ? KELVIN : this;
    }
}
