// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import static java.util.Map.entry;
import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Attachment;
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
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.function.Function;
import java.util.regex.Pattern;

/** Reads a job sheet as a technician fills it in (see {@code docs/examples/job-sheet.yaml}) and checks it whole. */
public final class JobSheetReader {
    private static final String FORMAT = "loadwitness-job-sheet/1";
    static final int NAME_MAX = 100;
    static final int TEXT_MAX = 2000;
    private static final double SECONDS_PER_MINUTE = 60;

    private static final Pattern DIGEST = Pattern.compile("[0-9a-fA-F]{64}");

    /** The keys of each mapping, by the key that it stands below; the top has none. */
    static final Map<String, List<String>> KEYS = Map.ofEntries(
            entry(
                    "",
                    List.of(
                            "format",
                            "ticket",
                            "shop",
                            "technician",
                            "authorised-by",
                            "warranty",
                            "earlier-report",
                            "customer",
                            "customer-reference",
                            "received",
                            "machine",
                            "reported-fault",
                            "condition-on-receipt",
                            "time-between-faults",
                            "findings",
                            "work-done",
                            "parts-replaced",
                            "repaired-rail",
                            "known-faults",
                            "rated-graphics-power",
                            "rated-power-origin",
                            "adapter-power",
                            "adapter",
                            "battery",
                            "wall-meter",
                            "ambient",
                            "instruments",
                            "rails",
                            "hand-checks",
                            "seal",
                            "closed-since-test",
                            "photos",
                            "not-applicable")),
            entry("machine", List.of("make", "model", "serial")),
            entry("adapter", List.of("label", "recognised", "whose")),
            entry("battery", List.of("label", "condition", "whose")),
            entry("wall-meter", List.of("idle", "soak")),
            entry("ambient", List.of("temperature", "how")),
            entry("instruments", List.of("name", "serial", "calibration")),
            entry("rails", RailReader.KEYS),
            entry("known-good", RailReader.KNOWN_GOOD_KEYS),
            entry("hand-checks", List.of("name", "done", "failed", "not-applicable", "note")),
            entry("photos", List.of("file", "sha256", "note")));

    private final Reading reading = new Reading();
    private final RailReader rails = new RailReader(reading);

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
        return sheet.get().readFrom(Attachment.of(fileName, yamlText).sha256());
    }

    private Optional<JobSheet> sheet(Located root) {
        return reading.section(root, "the job sheet", keys("")).map(this::sheet);
    }

    private JobSheet sheet(Section top) {
        reading.format(top, FORMAT);
        String ticket = top.required("ticket", "FBR-2026-0142")
                .flatMap(v -> reading.text(v, "ticket", NAME_MAX))
                .orElse("");
        return new JobSheet(
                ticket,
                new JobSheet.Issuer(
                        text(top, "shop", NAME_MAX),
                        text(top, "technician", NAME_MAX),
                        text(top, "authorised-by", NAME_MAX),
                        text(top, "warranty", TEXT_MAX),
                        text(top, "earlier-report", NAME_MAX)),
                new JobSheet.Intake(
                        text(top, "customer", NAME_MAX),
                        text(top, "customer-reference", NAME_MAX),
                        top.open("received").flatMap(v -> reading.date(v, "received")),
                        text(top, "reported-fault", TEXT_MAX),
                        text(top, "condition-on-receipt", TEXT_MAX),
                        list(top, "time-between-faults", "[12 min, 25 min]", this::minutes)),
                machine(top),
                new JobSheet.Repair(
                        texts(top, "findings", "- power stage PU3 shorted"),
                        texts(top, "work-done", "- power stage PU3 replaced"),
                        texts(top, "parts-replaced", "- PU3, new, from stock"),
                        text(top, "repaired-rail", NAME_MAX),
                        texts(top, "known-faults", "- card reader worn")),
                new Power(
                        number(top, "rated-graphics-power", Measure.POWER, 1, 2000),
                        text(top, "rated-power-origin", TEXT_MAX),
                        adapter(top),
                        battery(top),
                        wallMeter(top)),
                bench(top),
                list(top, "rails", "- {name: graphics core, resistance-after: 0.4 Ohm}", rails::rail),
                list(top, "hand-checks", "- {name: hinges and lid, done: yes}", this::handCheck),
                new JobSheet.Closing(
                        text(top, "seal", NAME_MAX),
                        yesOrNo(top, "closed-since-test"),
                        list(top, "photos", "- {file: board.jpg, sha256: 64 hexadecimal digits}", this::photo)),
                notApplicable(top),
                "");
    }

    private JobSheet.Machine machine(Section top) {
        Optional<Section> machine = within(top, "machine");
        return new JobSheet.Machine(
                text(machine, "make", NAME_MAX), text(machine, "model", NAME_MAX), text(machine, "serial", NAME_MAX));
    }

    private Power.Adapter adapter(Section top) {
        Optional<Section> adapter = within(top, "adapter");
        return new Power.Adapter(
                number(top, "adapter-power", Measure.POWER, 1, 2000),
                text(adapter, "label", TEXT_MAX),
                adapter.flatMap(a -> yesOrNo(a, "recognised")),
                adapter.flatMap(this::whose));
    }

    private Power.Battery battery(Section top) {
        Optional<Section> battery = within(top, "battery");
        return new Power.Battery(
                text(battery, "label", TEXT_MAX), text(battery, "condition", TEXT_MAX), battery.flatMap(this::whose));
    }

    private Optional<Power.Owner> whose(Section part) {
        return part.open("whose").flatMap(v -> reading.word(v, "whose", List.of(Power.Owner.values())));
    }

    private Power.WallMeter wallMeter(Section top) {
        Optional<Section> meter = within(top, "wall-meter");
        return new Power.WallMeter(
                number(meter, "idle", Measure.POWER, 0, 4000), number(meter, "soak", Measure.POWER, 0, 4000));
    }

    private JobSheet.Bench bench(Section top) {
        Optional<Section> ambient = within(top, "ambient");
        return new JobSheet.Bench(
                number(ambient, "temperature", Measure.TEMPERATURE, -20, 60),
                text(ambient, "how", TEXT_MAX),
                list(top, "instruments", "- {name: multimeter M2, calibration: 2026-03}", this::instrument));
    }

    private Optional<JobSheet.Instrument> instrument(Located at) {
        return reading.section(at, "an instrument", keys("instruments"))
                .map(i -> new JobSheet.Instrument(
                        name(i, "multimeter M2"), text(i, "serial", NAME_MAX), text(i, "calibration", TEXT_MAX)));
    }

    private Optional<Double> minutes(Located at) {
        OptionalDouble seconds = reading.number(at, "time-between-faults", Measure.DURATION, 1, 365 * 86_400.0);
        return seconds.isPresent() ? Optional.of(seconds.getAsDouble() / SECONDS_PER_MINUTE) : Optional.empty();
    }

    private Optional<JobSheet.HandCheck> handCheck(Located at) {
        return reading.section(at, "a hand check", keys("hand-checks")).map(check -> {
            String name = name(check, "hinges and lid");
            boolean done = yesOrNo(check, "done").orElse(false);
            boolean failed = yesOrNo(check, "failed").orElse(false);
            String reason = text(check, "not-applicable", TEXT_MAX);
            String note = text(check, "note", TEXT_MAX);
            if (!reason.isEmpty() && (done || failed)) {
                reading.problem(
                        check.keyAt("not-applicable"),
                        "the hand check '" + name + "' was made and does not apply; keep one of the two");
            }
            if (!reason.isEmpty()) {
                return new JobSheet.HandCheck(
                        name, JobSheet.HandCheck.State.NOT_APPLICABLE, note.isEmpty() ? reason : reason + "; " + note);
            }
            // "done: yes, failed: yes" says that the check was made and what came of it: no contradiction.
            JobSheet.HandCheck.State state = failed
                    ? JobSheet.HandCheck.State.FAILED
                    : done ? JobSheet.HandCheck.State.DONE : JobSheet.HandCheck.State.OPEN;
            return new JobSheet.HandCheck(name, state, note);
        });
    }

    private Optional<JobSheet.Photo> photo(Located at) {
        return reading.section(at, "a photo", keys("photos")).map(photo -> {
            String file = photo.required("file", "board.jpg")
                    .flatMap(v -> reading.text(v, "file", NAME_MAX).filter(t -> isPlainName(v, t)))
                    .orElse("");
            String digest = photo.open("sha256")
                    .flatMap(v -> reading.text(v, "sha256", NAME_MAX).filter(t -> isDigest(v, t)))
                    .orElse("");
            return new JobSheet.Photo(file, digest.toLowerCase(Locale.ROOT), text(photo, "note", TEXT_MAX));
        });
    }

    /** A sheet may come from anywhere: it names files beside it, and none elsewhere on the computer that reads it. */
    private boolean isPlainName(Located at, String name) {
        boolean plain = !name.contains("/") && !name.contains("\\") && !name.contains(":") && !name.startsWith(".");
        if (!plain) {
            reading.problem(
                    at, "file is a name without a folder, drive or leading point; the photo lies beside the sheet");
        }
        return plain;
    }

    private boolean isDigest(Located at, String digest) {
        boolean fits = DIGEST.matcher(digest).matches();
        if (!fits) {
            reading.problem(at, "sha256 is 64 hexadecimal digits, as 'job check' or sha256sum prints them");
        }
        return fits;
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

    private String name(Section section, String example) {
        return section.required("name", example)
                .flatMap(v -> reading.text(v, "name", NAME_MAX))
                .orElse("");
    }

    private static List<String> keys(String section) {
        return requireNonNull(KEYS.get(section), section);
    }

    /** The section below a key of its own name; empty where left open. */
    private Optional<Section> within(Section top, String key) {
        return top.open(key).flatMap(v -> reading.section(v, key, keys(key)));
    }

    private String text(Section section, String key, int lengthMax) {
        return section.open(key).flatMap(v -> reading.text(v, key, lengthMax)).orElse("");
    }

    private String text(Optional<Section> section, String key, int lengthMax) {
        return section.map(s -> text(s, key, lengthMax)).orElse("");
    }

    private List<String> texts(Section top, String key, String example) {
        return list(top, key, example, v -> reading.text(v, key, TEXT_MAX));
    }

    private Optional<Boolean> yesOrNo(Section section, String key) {
        return section.open(key).flatMap(v -> reading.either(v, key, "yes", "no"));
    }

    private OptionalDouble number(Section section, String key, Measure measure, double least, double most) {
        return section.open(key)
                .map(v -> reading.number(v, key, measure, least, most))
                .orElse(OptionalDouble.empty());
    }

    private OptionalDouble number(Optional<Section> section, String key, Measure measure, double least, double most) {
        return section.map(s -> number(s, key, measure, least, most)).orElse(OptionalDouble.empty());
    }

    private <T> List<T> list(Section section, String key, String example, Function<Located, Optional<T>> item) {
        List<T> found = new ArrayList<>();
        section.open(key)
                .ifPresent(v -> reading.items(v, key, example)
                        .forEach(i -> item.apply(i).ifPresent(found::add)));
        return found;
    }
}
