// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.yaml.Located;
import dev.loadwitness.runlog.yaml.Measure;
import dev.loadwitness.runlog.yaml.Reading;
import dev.loadwitness.runlog.yaml.Section;
import java.time.Duration;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.EnumMap;
import java.util.EnumSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Set;
import java.util.stream.IntStream;
import java.util.stream.Stream;

/**
 * Reads a procedure as a technician writes it (see {@code docs/procedures.md}) and checks it whole.
 *
 * <p>This class takes the values out of the file; what they must be together is {@link ProcedureCheck}'s business.
 */
public final class ProcedureReader {
    private static final String FORMAT = "loadwitness-procedure/1";
    private static final Duration SAMPLING_LEAST = Duration.ofMillis(100);
    private static final Duration SAMPLING_MOST = Duration.ofSeconds(10);
    private static final Duration STAGE_LEAST = Duration.ofSeconds(1);
    private static final Duration STAGE_MOST = Duration.ofDays(7);
    private static final Duration SILENCE_LEAST = Duration.ofSeconds(1);
    private static final Duration SILENCE_MOST = Duration.ofMinutes(1);
    /** Free memory that must be left to the system, so that it does not end the load for lack of it. */
    private static final double MEMORY_SHARE_MOST = 0.9;

    private static final double TIMES_MOST = 20;

    private static final double MEMORY_SHARE_LEAST = 0.01;
    private static final double CEILING_LEAST_CELSIUS = 30;
    private static final double CEILING_MOST_CELSIUS = 125;

    private static final Set<Role> GPUS = EnumSet.of(Role.GPU_DISCRETE, Role.GPU_INTEGRATED);
    private static final Set<Role> PROVABLE = EnumSet.of(Role.CPU, Role.MEMORY, Role.GPU_DISCRETE, Role.GPU_INTEGRATED);
    private static final Set<Role> ABSENTEES =
            EnumSet.of(Role.GPU_DISCRETE, Role.GPU_INTEGRATED, Role.BATTERY, Role.ADAPTER);
    private static final Set<Role> CEILINGS = EnumSet.of(
            Role.CPU, Role.MEMORY, Role.GPU_DISCRETE, Role.GPU_INTEGRATED, Role.BATTERY, Role.BOARD, Role.STORAGE);

    private final Reading reading = new Reading();
    private final ProcedureCheck check = new ProcedureCheck(reading);

    private ProcedureReader() {}

    /**
     * The procedure that {@code yamlText} holds.
     *
     * @param fileName for messages
     * @throws ProcedureException listing every fault, each with line and column
     */
    public static Procedure read(String fileName, String yamlText) throws ProcedureException {
        ProcedureReader reader = new ProcedureReader();
        Optional<Procedure> procedure = reader.reading.tree(yamlText).flatMap(reader::procedure);
        if (procedure.isEmpty() || !reader.reading.isFlawless()) {
            throw new ProcedureException(fileName, reader.reading.problems());
        }
        return procedure.get();
    }

    private Optional<Procedure> procedure(Located root) {
        Optional<Section> opened = reading.section(
                root,
                "the procedure",
                List.of(
                        "format",
                        "name",
                        "title",
                        "sampling",
                        "stages",
                        "absent",
                        "safety",
                        "on-interruption",
                        "decision",
                        "criteria"));
        if (opened.isEmpty()) {
            return Optional.empty();
        }
        Section top = opened.get();
        reading.format(top, FORMAT);
        Optional<String> name = top.required("name", "quick-check").flatMap(v -> reading.identifier(v, "name"));
        Optional<String> title =
                top.required("title", "Two minutes of load").flatMap(v -> reading.text(v, "title", 200));
        Optional<Duration> sampling = top.required("sampling", "1 s")
                .flatMap(v -> reading.duration(v, "sampling", SAMPLING_LEAST, SAMPLING_MOST));
        Optional<List<Stage>> stages =
                top.required("stages", "(a list; see docs/procedures.md)").flatMap(this::stages);
        Set<Role> absent =
                top.optional("absent", "[gpu-discrete]").map(this::absent).orElse(Set.of());
        Optional<Safety> safety =
                top.required("safety", "(keys; see docs/procedures.md)").flatMap(v -> safety(v, sampling));
        OnInterruption onInterruption = top.optional("on-interruption", "stop")
                .flatMap(v -> reading.either(v, "on-interruption", "go-on", "stop"))
                .map(goOn -> goOn ? OnInterruption.GO_ON : OnInterruption.STOP)
                .orElse(OnInterruption.STOP);
        Optional<DecisionRule> decision =
                top.required("decision", "{rule: guarded, guard-factor: 1}").flatMap(this::decision);
        Optional<List<CriterionSetting>> criteria =
                top.required("criteria", "(keys; see docs/procedures.md)").flatMap(this::criteria);
        if (Stream.of(name, title, sampling, stages, safety, decision, criteria).anyMatch(Optional::isEmpty)) {
            return Optional.empty();
        }
        Procedure procedure = new Procedure(
                name.get(),
                title.get(),
                sampling.get(),
                stages.get(),
                absent,
                safety.get(),
                onInterruption,
                decision.get(),
                criteria.get());
        check.whole(procedure, top);
        return Optional.of(procedure);
    }

    /** Empty unless every stage is free of faults: checks of the whole would otherwise complain about what is only misspelt. */
    private Optional<List<Stage>> stages(Located at) {
        List<Stage> stages = new ArrayList<>();
        boolean whole = true;
        for (Located item : reading.items(at, "stages", "- {id: soak, loads: [cpu], proves: cpu, duration: 60 min}")) {
            int before = reading.problems().size();
            stages.addAll(stage(item));
            whole &= reading.problems().size() == before;
        }
        if (at instanceof Located.Items list && list.items().isEmpty()) {
            reading.problem(at, "stages holds no stage; a run without one shows nothing");
            whole = false;
        }
        return whole && at instanceof Located.Items ? Optional.of(stages) : Optional.empty();
    }

    /** None if it cannot be read; several if it is to be repeated. */
    private List<Stage> stage(Located at) {
        return reading.section(
                        at,
                        "a stage",
                        List.of(
                                "id",
                                "asks",
                                "times",
                                "loads",
                                "gpu",
                                "proves",
                                "duration",
                                "memory-share",
                                "if-present",
                                "if-repaired"))
                .map(this::stage)
                .orElse(List.of());
    }

    private List<Stage> stage(Section section) {
        Optional<String> id = section.required("id", "discrete-soak").flatMap(v -> reading.identifier(v, "id"));
        Optional<List<LoadKind>> loads = section.optional("loads", "[cpu, memory]")
                .map(v -> words(v, "load", "[cpu, memory]", EnumSet.allOf(LoadKind.class)))
                .orElse(Optional.of(List.of()));
        Optional<Role> gpu = section.optional("gpu", "gpu-discrete").flatMap(v -> reading.word(v, "GPU", GPUS));
        Optional<Role> proves =
                section.optional("proves", "gpu-discrete").flatMap(v -> reading.word(v, "part to prove", PROVABLE));
        Optional<Duration> duration = section.required("duration", "60 min")
                .flatMap(v -> reading.duration(v, "duration", STAGE_LEAST, STAGE_MOST));
        OptionalDouble share = section.optional("memory-share", "25 %")
                .map(v -> reading.number(v, "memory-share", Measure.SHARE, MEMORY_SHARE_LEAST, MEMORY_SHARE_MOST))
                .orElse(OptionalDouble.empty());
        boolean ifPresent = section.optional("if-present", "yes")
                .flatMap(v -> reading.either(v, "if-present", "yes", "no"))
                .orElse(false);
        List<RailShare> ifRepaired = section.optional("if-repaired", "{graphics-core: 30 min}")
                .map(v -> ifRepaired(v, duration))
                .orElse(List.of());
        Optional<Located> asksAt = section.optional("asks", "sleep");
        Optional<Ask> asks = asksAt.flatMap(v -> reading.word(v, "thing to ask for", EnumSet.allOf(Ask.class)));
        OptionalDouble times = section.optional("times", "3")
                .map(v -> reading.number(v, "times", Measure.COUNT, 2, TIMES_MOST))
                .orElse(OptionalDouble.of(1));
        List<String> ids = id.map(i -> ids(i, times)).orElse(List.of());
        ids.forEach(i -> check.stageId(section, i));
        loads.ifPresent(l -> check.stageParts(section, l, gpu, proves, ifPresent));
        if (asksAt.isPresent()) {
            check.stageAsks(section, asks, proves, ifPresent);
        }
        if (loads.isEmpty() || duration.isEmpty()) {
            return List.of();
        }
        List<Stage> stages = ids.stream()
                .map(i -> new Stage(
                        i, loads.get(), gpu, proves, duration.get(), share.orElse(0), ifPresent, asks, ifRepaired))
                .toList();
        stages.forEach(stage -> check.remember(stage, section));
        return stages;
    }

    /** {@code sleep}, or {@code sleep-1} and so on. */
    private static List<String> ids(String id, OptionalDouble times) {
        return times.orElse(1) == 1
                ? List.of(id)
                : IntStream.rangeClosed(1, (int) times.getAsDouble())
                        .mapToObj(n -> id + "-" + n)
                        .toList();
    }

    /** Never less than {@code otherwise}, so that what is checked without a repaired rail holds for each of them too. */
    private List<RailShare> ifRepaired(Located at, Optional<Duration> otherwise) {
        List<String> words =
                Arrays.stream(GraphicsRail.values()).map(GraphicsRail::word).toList();
        Optional<Section> section = reading.section(at, "if-repaired", words);
        List<RailShare> shares = new ArrayList<>();
        for (String word : section.map(Section::keys).orElse(List.of())) {
            GraphicsRail rail = Word.find(GraphicsRail.class, word).orElseThrow();
            section.get()
                    .optional(word, "30 min")
                    .flatMap(v -> reading.duration(v, "if-repaired " + word, STAGE_LEAST, STAGE_MOST))
                    .ifPresent(longer -> {
                        if (otherwise.filter(d -> longer.compareTo(d) <= 0).isPresent()) {
                            reading.problem(
                                    section.get().keyAt(word),
                                    "a repaired rail gets more time, and this is not longer than the stage's duration;"
                                            + " lengthen it, or take it out");
                        }
                        shares.add(new RailShare(rail, longer));
                    });
        }
        return shares;
    }

    private Set<Role> absent(Located at) {
        return words(at, "absent part", "[gpu-discrete]", ABSENTEES)
                .map(Set::copyOf)
                .orElse(Set.of());
    }

    /** Empty if one of them is unknown. */
    private <E extends Enum<E> & Word> Optional<List<E>> words(Located at, String what, String example, Set<E> valid) {
        List<E> found = new ArrayList<>();
        boolean whole = at instanceof Located.Items;
        for (Located item : reading.items(at, "the list of " + what + "s", example)) {
            Optional<E> word = reading.word(item, what, valid);
            whole &= word.isPresent();
            if (word.isPresent() && found.contains(word.get())) {
                reading.problem(item, what + " '" + word.get().word() + "' is given a second time; keep one");
            } else {
                word.ifPresent(found::add);
            }
        }
        return whole ? Optional.of(found) : Optional.empty();
    }

    private Optional<Safety> safety(Located at, Optional<Duration> sampling) {
        return reading.section(at, "safety", List.of("stop-above", "silent-after", "adapter-lost", "unguarded"))
                .flatMap(section -> safety(section, sampling));
    }

    private Optional<Safety> safety(Section section, Optional<Duration> sampling) {
        Optional<Map<Role, Double>> ceilings =
                section.required("stop-above", "{cpu: 100 Cel}").flatMap(this::ceilings);
        Optional<Duration> silence = section.required("silent-after", "10 s")
                .flatMap(v -> reading.duration(v, "silent-after", SILENCE_LEAST, SILENCE_MOST));
        Optional<Boolean> adapter = section.required("adapter-lost", "stop")
                .flatMap(v -> reading.either(v, "adapter-lost", "stop", "go-on"));
        Optional<Boolean> unguarded =
                section.required("unguarded", "refuse").flatMap(v -> reading.either(v, "unguarded", "allow", "refuse"));
        if (silence.isPresent() && sampling.isPresent()) {
            check.silence(section, silence.get(), sampling.get());
        }
        if (Stream.of(ceilings, silence, adapter, unguarded).anyMatch(Optional::isEmpty)) {
            return Optional.empty();
        }
        return Optional.of(new Safety(ceilings.get(), silence.get(), adapter.get(), unguarded.get()));
    }

    /** Empty unless all could be read, so that a misspelt part is not also called missing. */
    private Optional<Map<Role, Double>> ceilings(Located at) {
        List<String> words = CEILINGS.stream().map(Role::word).toList();
        Optional<Section> opened = reading.section(at, "stop-above", words);
        if (opened.isEmpty()) {
            return Optional.empty();
        }
        Section section = opened.get();
        Map<Role, Double> ceilings = new EnumMap<>(Role.class);
        for (String word : section.keys()) {
            OptionalDouble ceiling = section.optional(word, "95 Cel")
                    .map(v -> reading.number(
                            v, "stop-above " + word, Measure.TEMPERATURE, CEILING_LEAST_CELSIUS, CEILING_MOST_CELSIUS))
                    .orElse(OptionalDouble.empty());
            if (ceiling.isPresent()) {
                ceilings.put(Word.find(Role.class, word).orElseThrow(), ceiling.getAsDouble());
            }
        }
        boolean whole = at instanceof Located.Fields fields
                && ceilings.size() == fields.fields().size();
        return whole ? Optional.of(ceilings) : Optional.empty();
    }

    private Optional<DecisionRule> decision(Located at) {
        return reading.section(at, "decision", List.of("rule", "guard-factor")).flatMap(this::decision);
    }

    private Optional<DecisionRule> decision(Section section) {
        Optional<Boolean> guarded =
                section.required("rule", "guarded").flatMap(v -> reading.either(v, "rule", "guarded", "simple"));
        Optional<Located> factorAt = section.optional("guard-factor", "1");
        if (guarded.isEmpty()) {
            return Optional.empty();
        }
        if (!guarded.get()) {
            factorAt.ifPresent(at -> reading.problem(
                    section.keyAt("guard-factor"),
                    "guard-factor belongs to rule 'guarded' only; take it out, or write rule: guarded"));
            return Optional.of(DecisionRule.SIMPLE);
        }
        if (factorAt.isEmpty()) {
            return section.required("guard-factor", "1").map(at -> DecisionRule.SIMPLE);
        }
        OptionalDouble factor = reading.number(factorAt.get(), "guard-factor", Measure.FACTOR, 0.1, 3);
        return factor.isPresent() ? Optional.of(new DecisionRule(factor.getAsDouble())) : Optional.empty();
    }

    private Optional<List<CriterionSetting>> criteria(Located at) {
        List<String> words =
                Arrays.stream(Criterion.values()).map(Criterion::word).toList();
        Optional<Section> opened = reading.section(at, "criteria", words);
        if (opened.isEmpty()) {
            return Optional.empty();
        }
        Section section = opened.get();
        List<CriterionSetting> settings = new ArrayList<>();
        for (String word : section.keys()) {
            Criterion criterion = Word.find(Criterion.class, word).orElseThrow();
            section.optional(word, "{mandatory: yes}")
                    .flatMap(v -> setting(criterion, v))
                    .ifPresent(setting -> {
                        settings.add(setting);
                        check.remember(setting, section.keyAt(word));
                    });
        }
        boolean whole = at instanceof Located.Fields fields
                && settings.size() == fields.fields().size();
        return whole ? Optional.of(settings) : Optional.empty();
    }

    private Optional<CriterionSetting> setting(Criterion criterion, Located at) {
        List<String> keys = Stream.concat(
                        Stream.of("mandatory"), criterion.parameters().stream().map(Parameter::name))
                .toList();
        Optional<Section> opened = reading.section(at, criterion.word(), keys);
        if (opened.isEmpty()) {
            return Optional.empty();
        }
        Section section = opened.get();
        Optional<Boolean> mandatory =
                section.required("mandatory", "yes").flatMap(v -> reading.either(v, "mandatory", "yes", "no"));
        Map<String, Double> given = new LinkedHashMap<>();
        for (Parameter<?> parameter : criterion.parameters()) {
            Measure measure = parameter.measure();
            OptionalDouble value = section.optional(parameter.name(), measure.write(parameter.defaultValue()))
                    .map(v -> reading.number(v, parameter.name(), measure, parameter.minimum(), parameter.maximum()))
                    .orElse(OptionalDouble.empty());
            if (value.isPresent()) {
                given.put(parameter.name(), value.getAsDouble());
            }
        }
        return mandatory.map(m -> new CriterionSetting(criterion, m, given));
    }
}
