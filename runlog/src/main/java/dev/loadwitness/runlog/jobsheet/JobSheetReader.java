// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.yaml.Located;
import dev.loadwitness.runlog.yaml.Measure;
import dev.loadwitness.runlog.yaml.Reading;
import dev.loadwitness.runlog.yaml.Section;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.EnumMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.function.Function;

/** Reads a job sheet as a technician fills it in (see {@code docs/examples/job-sheet.yaml}) and checks it whole. */
public final class JobSheetReader {
    private static final String FORMAT = "loadwitness-job-sheet/1";
    private static final int NAME_MAX = 100;
    private static final int TEXT_MAX = 2000;
    private static final double SECONDS_PER_MINUTE = 60;

    private final Reading reading = new Reading();

    private JobSheetReader() {}

    /**
     * The job sheet that {@code yamlText} holds. Keys left out or left empty stay open; only the ticket must be there.
     *
     * @param fileName for messages
     * @throws JobSheetException listing every fault, each with line and column
     */
    public static JobSheet read(String fileName, String yamlText) throws JobSheetException {
        JobSheetReader reader = new JobSheetReader();
        Optional<JobSheet> sheet = reader.reading.tree(yamlText).flatMap(reader::sheet);
        if (sheet.isEmpty() || !reader.reading.isFlawless()) {
            throw new JobSheetException(fileName, reader.reading.problems());
        }
        return sheet.get();
    }

    private Optional<JobSheet> sheet(Located root) {
        return reading.section(
                        root,
                        "the job sheet",
                        List.of(
                                "format",
                                "ticket",
                                "shop",
                                "technician",
                                "customer",
                                "received",
                                "machine",
                                "reported-fault",
                                "work-done",
                                "repaired-rail",
                                "rated-graphics-power",
                                "adapter-power",
                                "wall-meter",
                                "time-between-faults",
                                "rails",
                                "hand-checks",
                                "not-applicable"))
                .map(this::sheet);
    }

    private JobSheet sheet(Section top) {
        reading.format(top, FORMAT);
        String ticket = top.required("ticket", "FBR-2026-0142")
                .flatMap(v -> reading.text(v, "ticket", NAME_MAX))
                .orElse("");
        return new JobSheet(
                ticket,
                text(top, "shop", NAME_MAX),
                text(top, "technician", NAME_MAX),
                text(top, "customer", NAME_MAX),
                top.open("received").flatMap(v -> reading.date(v, "received")),
                machine(top),
                text(top, "reported-fault", TEXT_MAX),
                list(top, "work-done", "- power stage PU3 replaced", v -> reading.text(v, "work-done", TEXT_MAX)),
                text(top, "repaired-rail", NAME_MAX),
                number(top, "rated-graphics-power", Measure.POWER, 1, 2000),
                number(top, "adapter-power", Measure.POWER, 1, 2000),
                wallMeter(top),
                list(top, "time-between-faults", "[12 min, 25 min]", this::minutes),
                list(top, "rails", "- {name: graphics core, resistance-after: 0.4 Ohm}", this::rail),
                list(top, "hand-checks", "- {name: hinges and lid, done: yes}", this::handCheck),
                notApplicable(top));
    }

    private JobSheet.Machine machine(Section top) {
        Optional<Section> machine =
                top.open("machine").flatMap(v -> reading.section(v, "machine", List.of("make", "model", "serial")));
        return new JobSheet.Machine(
                machine.map(m -> text(m, "make", NAME_MAX)).orElse(""),
                machine.map(m -> text(m, "model", NAME_MAX)).orElse(""),
                machine.map(m -> text(m, "serial", NAME_MAX)).orElse(""));
    }

    private JobSheet.WallMeter wallMeter(Section top) {
        Optional<Section> meter =
                top.open("wall-meter").flatMap(v -> reading.section(v, "wall-meter", List.of("idle", "soak")));
        return new JobSheet.WallMeter(
                meter.map(m -> number(m, "idle", Measure.POWER, 0, 4000)).orElse(OptionalDouble.empty()),
                meter.map(m -> number(m, "soak", Measure.POWER, 0, 4000)).orElse(OptionalDouble.empty()));
    }

    private Optional<Double> minutes(Located at) {
        OptionalDouble seconds = reading.number(at, "time-between-faults", Measure.DURATION, 1, 365 * 86_400.0);
        return seconds.isPresent() ? Optional.of(seconds.getAsDouble() / SECONDS_PER_MINUTE) : Optional.empty();
    }

    private Optional<JobSheet.Rail> rail(Located at) {
        return reading.section(
                        at,
                        "a rail",
                        List.of("name", "resistance-before", "resistance-after", "voltage-after", "state"))
                .map(rail -> new JobSheet.Rail(
                        rail.required("name", "graphics core")
                                .flatMap(v -> reading.text(v, "name", NAME_MAX))
                                .orElse(""),
                        number(rail, "resistance-before", Measure.RESISTANCE, 0, 1e9),
                        number(rail, "resistance-after", Measure.RESISTANCE, 0, 1e9),
                        number(rail, "voltage-after", Measure.VOLTAGE, -100, 100),
                        text(rail, "state", NAME_MAX)));
    }

    private Optional<JobSheet.HandCheck> handCheck(Located at) {
        return reading.section(at, "a hand check", List.of("name", "done", "note"))
                .map(check -> new JobSheet.HandCheck(
                        check.required("name", "hinges and lid")
                                .flatMap(v -> reading.text(v, "name", NAME_MAX))
                                .orElse(""),
                        check.open("done")
                                .flatMap(v -> reading.either(v, "done", "yes", "no"))
                                .orElse(false),
                        text(check, "note", TEXT_MAX)));
    }

    private Map<Criterion, String> notApplicable(Section top) {
        List<String> words =
                Arrays.stream(Criterion.values()).map(Criterion::word).toList();
        Map<Criterion, String> reasons = new EnumMap<>(Criterion.class);
        top.open("not-applicable")
                .flatMap(v -> reading.section(v, "not-applicable", words))
                .ifPresent(section -> section.keys()
                        .forEach(word -> section.required(word, "no battery fitted")
                                .flatMap(v -> reading.text(v, "the reason for " + word, TEXT_MAX))
                                .ifPresent(reason -> reasons.put(
                                        Word.find(Criterion.class, word).orElseThrow(), reason))));
        return reasons;
    }

    private String text(Section section, String key, int lengthMax) {
        return section.open(key).flatMap(v -> reading.text(v, key, lengthMax)).orElse("");
    }

    private OptionalDouble number(Section section, String key, Measure measure, double least, double most) {
        return section.open(key)
                .map(v -> reading.number(v, key, measure, least, most))
                .orElse(OptionalDouble.empty());
    }

    private <T> List<T> list(Section section, String key, String example, Function<Located, Optional<T>> item) {
        List<T> found = new ArrayList<>();
        section.open(key)
                .ifPresent(v -> reading.items(v, key, example)
                        .forEach(i -> item.apply(i).ifPresent(found::add)));
        return found;
    }
}
