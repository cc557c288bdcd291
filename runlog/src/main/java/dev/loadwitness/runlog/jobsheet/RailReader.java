// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import dev.loadwitness.runlog.yaml.Located;
import dev.loadwitness.runlog.yaml.Measure;
import dev.loadwitness.runlog.yaml.Reading;
import dev.loadwitness.runlog.yaml.Section;
import java.util.List;
import java.util.Optional;
import java.util.OptionalDouble;

/** One entry below {@code rails}. */
final class RailReader {
    static final List<String> KEYS = List.of(
            "name",
            "kind",
            "nominal",
            "tolerance",
            "least",
            "most",
            "limits-origin",
            "state",
            "resistance-before",
            "diode-before",
            "voltage-before",
            "resistance-after",
            "diode-after",
            "voltage-after",
            "voltage-uncertainty",
            "known-good");
    static final List<String> KNOWN_GOOD_KEYS = List.of("resistance", "diode", "voltage");

    private static final double OHMS_MOST = 1e9;
    private static final double VOLTS_MOST = 100;

    private final Reading reading;

    RailReader(Reading reading) {
        this.reading = reading;
    }

    Optional<Rail> rail(Located at) {
        return reading.section(at, "a rail", KEYS).map(this::rail);
    }

    private Rail rail(Section section) {
        Optional<Section> knownGood =
                section.open("known-good").flatMap(v -> reading.section(v, "known-good", KNOWN_GOOD_KEYS));
        Rail rail = new Rail(
                section.required("name", "graphics core")
                        .flatMap(v -> reading.text(v, "name", JobSheetReader.NAME_MAX))
                        .orElse(""),
                section.open("kind").flatMap(v -> reading.word(v, "kind", List.of(Rail.Kind.values()))),
                volts(section, "nominal"),
                number(section, "tolerance", Measure.SHARE, 0.001, 0.5),
                volts(section, "least"),
                volts(section, "most"),
                text(section, "limits-origin", JobSheetReader.TEXT_MAX),
                text(section, "state", JobSheetReader.NAME_MAX),
                reading(section, "-before"),
                reading(section, "-after"),
                number(section, "voltage-uncertainty", Measure.VOLTAGE, 0, VOLTS_MOST),
                knownGood.map(s -> reading(s, "")).orElse(Rail.Reading.NONE));
        refuseLimitsThatContradict(section, rail);
        return rail;
    }

    private Rail.Reading reading(Section section, String suffix) {
        return new Rail.Reading(
                volts(section, "voltage" + suffix),
                number(section, "resistance" + suffix, Measure.RESISTANCE, 0, OHMS_MOST),
                number(section, "diode" + suffix, Measure.VOLTAGE, 0, VOLTS_MOST));
    }

    private void refuseLimitsThatContradict(Section section, Rail rail) {
        boolean limits = rail.voltsLeast().isPresent() || rail.voltsMost().isPresent();
        if (rail.toleranceShare().isPresent() && limits) {
            reading.problem(
                    section.keyAt("tolerance"),
                    "the rail has a tolerance and limits (least, most); keep one of the two");
        } else if (rail.toleranceShare().isPresent() && section.open("nominal").isEmpty()) {
            reading.problem(section.keyAt("tolerance"), "a tolerance of what? write for example nominal: 5 V");
        }
        if (rail.voltsLeast().orElse(-VOLTS_MOST) > rail.voltsMost().orElse(VOLTS_MOST)) {
            reading.problem(section.keyAt("least"), "least is above most; exchange them");
        }
    }

    private OptionalDouble volts(Section section, String key) {
        return number(section, key, Measure.VOLTAGE, -VOLTS_MOST, VOLTS_MOST);
    }

    private OptionalDouble number(Section section, String key, Measure measure, double least, double most) {
        return section.open(key)
                .map(v -> reading.number(v, key, measure, least, most))
                .orElse(OptionalDouble.empty());
    }

    private String text(Section section, String key, int lengthMax) {
        return section.open(key).flatMap(v -> reading.text(v, key, lengthMax)).orElse("");
    }
}
