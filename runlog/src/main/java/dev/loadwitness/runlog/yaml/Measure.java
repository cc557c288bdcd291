// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import java.math.BigDecimal;
import java.math.RoundingMode;
import java.util.List;

/** A kind of number in a file: the units in which it may be written, and the one in which Java holds it (factor 1). */
public enum Measure {
    /** Held in seconds. */
    DURATION("90 s, 60 min or 1 h", unit("h", "3600"), unit("min", "60"), unit("s", "1"), unit("ms", "0.001")),
    /** Held as a fraction. */
    SHARE("85 %", unit("%", "0.01")),
    /** Held in degrees Celsius; {@code Cel} is the UCUM word. */
    TEMPERATURE("87 Cel", unit("Cel", "1")),
    /** Held in kelvin. */
    TEMPERATURE_DIFFERENCE("5 K", unit("K", "1")),
    /** Held in kelvin per watt. */
    THERMAL_RESISTANCE("0.42 K/W", unit("K/W", "1")),
    /** A whole number. */
    COUNT("0 or 3", unit("", "1")),
    FACTOR("1 or 0.83", unit("", "1")),
    /** Held in watts. */
    POWER("150 W", unit("W", "1")),
    /** Held in ohms. */
    RESISTANCE(
            "0.4 Ohm or 12 kOhm",
            unit("MOhm", "1000000"),
            unit("kOhm", "1000"),
            unit("Ohm", "1"),
            unit("mOhm", "0.001")),
    /** Held in volts. */
    VOLTAGE("0.85 V or 850 mV", unit("V", "1"), unit("mV", "0.001"));

    record Unit(String word, BigDecimal factor) {}

    private final String examples;
    private final List<Unit> units;

    Measure(String examples, Unit... unitsBiggestFirst) {
        this.examples = examples;
        this.units = List.of(unitsBiggestFirst);
    }

    private static Unit unit(String word, String factor) {
        return new Unit(word, new BigDecimal(factor));
    }

    /** As one writes it: in the biggest unit that leaves a whole number, else in the one that Java holds. */
    public String write(double value) {
        BigDecimal exact = BigDecimal.valueOf(value);
        Unit fallback = units.stream()
                .filter(u -> u.factor().compareTo(BigDecimal.ONE) == 0)
                .findFirst()
                .orElse(units.get(0));
        Unit chosen = units.stream()
                .filter(u -> exact.signum() != 0 && exact.remainder(u.factor()).signum() == 0)
                .findFirst()
                .orElse(fallback);
        BigDecimal number = exact.divide(chosen.factor(), 12, RoundingMode.HALF_EVEN);
        String digits = number.signum() == 0 ? "0" : number.stripTrailingZeros().toPlainString();
        return chosen.word().isEmpty() ? digits : digits + " " + chosen.word();
    }

    String examples() {
        return examples;
    }

    List<Unit> units() {
        return units;
    }

    List<String> unitWords() {
        return units.stream().map(Unit::word).filter(w -> !w.isEmpty()).toList();
    }
}
