// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static java.util.Objects.requireNonNull;

/**
 * A number that a criterion can be given.
 *
 * @param name as in the procedure, for example {@code at-least}
 * @param defaultValue in the quantity's own unit
 * @param meaning one line for people, with the origin of the default
 */
public record Parameter(String name, Quantity quantity, double defaultValue, String meaning) {
    public Parameter {
        requireNonNull(name, "name");
        requireNonNull(quantity, "quantity");
        requireNonNull(meaning, "meaning");
    }

    /** What is measured by a parameter, and the unit in which Java holds it. */
    public enum Quantity {
        /** Seconds; written {@code 90 s}, {@code 60 min}, {@code 1 h}. */
        DURATION,
        /** Fraction; written {@code 85 %}. */
        SHARE,
        /** Degrees Celsius; written {@code 87 Cel}. */
        TEMPERATURE,
        /** Kelvin; written {@code 5 K}. */
        TEMPERATURE_DIFFERENCE,
        /** A whole number. */
        COUNT
    }
}
