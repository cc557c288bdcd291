// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.yaml.Measure;

/**
 * A number that a criterion can be given.
 *
 * @param name as in the procedure, for example {@code at-least}
 * @param defaultValue in the quantity's own unit
 * @param minimum least value that a procedure may state; chosen so that no criterion can be made empty
 * @param maximum greatest value that a procedure may state
 * @param meaning one line for people, with the origin of the default
 */
public record Parameter(
        String name, Quantity quantity, double defaultValue, double minimum, double maximum, String meaning) {
    public Parameter {
        requireNonNull(name, "name");
        requireNonNull(quantity, "quantity");
        requireNonNull(meaning, "meaning");
        if (!(minimum <= defaultValue && defaultValue <= maximum)) {
            throw new IllegalArgumentException(
                    name + ": default " + defaultValue + " is not from " + minimum + " to " + maximum);
        }
    }

    /** What is measured by a parameter, and the unit in which Java holds it. */
    public enum Quantity {
        /** Seconds; written {@code 90 s}, {@code 60 min}, {@code 1 h}. */
        DURATION(Measure.DURATION),
        /** Fraction; written {@code 85 %}. */
        SHARE(Measure.SHARE),
        /** Degrees Celsius; written {@code 87 Cel}. */
        TEMPERATURE(Measure.TEMPERATURE),
        /** Kelvin; written {@code 5 K}. */
        TEMPERATURE_DIFFERENCE(Measure.TEMPERATURE_DIFFERENCE),
        /** Kelvin per watt; written {@code 0.42 K/W}. */
        THERMAL_RESISTANCE(Measure.THERMAL_RESISTANCE),
        /** A whole number. */
        COUNT(Measure.COUNT);

        private final Measure measure;

        Quantity(Measure measure) {
            this.measure = measure;
        }

        Measure measure() {
            return measure;
        }

        /** The value as it stands in a procedure: {@code 3600} is {@code 1 h}. */
        public String write(double value) {
            return measure.write(value);
        }
    }
}
