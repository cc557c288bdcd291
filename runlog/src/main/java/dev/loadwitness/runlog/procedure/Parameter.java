// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.yaml.Measure;

/**
 * A number that a criterion can be given. Its type says in which unit Java holds it, and so by which method of
 * {@link CriterionSetting} it is had.
 *
 * @param <U> that unit
 * @param name as in the procedure, for example {@code at-least}
 * @param measure the units in which a procedure may write it
 * @param defaultValue in the unit
 * @param minimum least value that a procedure may state; chosen so that no criterion can be made empty
 * @param maximum greatest value that a procedure may state
 * @param meaning one line for people
 * @param origin of the default, for people; empty where it needs none
 */
public record Parameter<U extends Parameter.Unit>(
        String name,
        Measure measure,
        double defaultValue,
        double minimum,
        double maximum,
        String meaning,
        String origin) {
    /** The units in which Java holds parameters. */
    public sealed interface Unit {}

    /** Written {@code 90 s}, {@code 60 min}, {@code 1 h}. */
    public static final class Seconds implements Unit {}

    /** A fraction; written {@code 85 %}. */
    public static final class Share implements Unit {}

    /** Written {@code 87 Cel}. */
    public static final class Celsius implements Unit {}

    /** A difference of temperatures; written {@code 5 K}. */
    public static final class Kelvin implements Unit {}

    /** Written {@code 0.42 K/W}. */
    public static final class KelvinPerWatt implements Unit {}

    /** A whole number. */
    public static final class Count implements Unit {}

    public Parameter {
        if (!(minimum <= defaultValue && defaultValue <= maximum)) {
            throw new IllegalArgumentException(
                    name + ": default " + defaultValue + " is not from " + minimum + " to " + maximum);
        }
    }

    static Parameter<Seconds> seconds(String name, double otherwise, double least, double most, String meaning) {
        return new Parameter<>(name, Measure.DURATION, otherwise, least, most, meaning, "");
    }

    static Parameter<Share> share(String name, double otherwise, double least, double most, String meaning) {
        return new Parameter<>(name, Measure.SHARE, otherwise, least, most, meaning, "");
    }

    static Parameter<Celsius> celsius(String name, double otherwise, double least, double most, String meaning) {
        return new Parameter<>(name, Measure.TEMPERATURE, otherwise, least, most, meaning, "");
    }

    static Parameter<Kelvin> kelvin(String name, double otherwise, double least, double most, String meaning) {
        return new Parameter<>(name, Measure.TEMPERATURE_DIFFERENCE, otherwise, least, most, meaning, "");
    }

    static Parameter<KelvinPerWatt> kelvinPerWatt(
            String name, double otherwise, double least, double most, String meaning) {
        return new Parameter<>(name, Measure.THERMAL_RESISTANCE, otherwise, least, most, meaning, "");
    }

    static Parameter<Count> count(String name, double otherwise, double least, double most, String meaning) {
        return new Parameter<>(name, Measure.COUNT, otherwise, least, most, meaning, "");
    }

    /** The same, its default from there. */
    Parameter<U> from(String source) {
        return new Parameter<>(name, measure, defaultValue, minimum, maximum, meaning, source);
    }

    /** The same, its default a habit of the trade. */
    Parameter<U> commonPractice() {
        return from("common practice, no source");
    }
}
