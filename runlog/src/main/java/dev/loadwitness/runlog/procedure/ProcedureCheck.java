// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.yaml.Located;
import dev.loadwitness.runlog.yaml.Measure;
import dev.loadwitness.runlog.yaml.Reading;
import dev.loadwitness.runlog.yaml.Section;
import java.time.Duration;
import java.util.EnumMap;
import java.util.HashMap;
import java.util.LinkedHashSet;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;

/** What the values of a procedure must be together, so that a run of it can be judged and is safe. */
final class ProcedureCheck {
    /** A part is always known by its metrics; main memory tells neither a power limit nor why it holds back. */
    private static final Set<Metric> NOT_OF_MEMORY =
            Set.of(Metric.POWER_LIMIT, Metric.THROTTLE_COUNT, Metric.THROTTLE_TIME, Metric.THROTTLE_ACTIVE);

    private final Reading reading;
    private final Map<String, Section> stages = new HashMap<>();
    private final Map<String, Integer> lines = new HashMap<>();
    private final Map<Criterion, Located> criteria = new EnumMap<>(Criterion.class);

    ProcedureCheck(Reading reading) {
        this.reading = reading;
    }

    void remember(Stage stage, Section section) {
        stages.putIfAbsent(stage.id(), section);
    }

    void remember(CriterionSetting setting, Located key) {
        criteria.put(setting.criterion(), key);
    }

    private Located keyOf(CriterionSetting setting) {
        return requireNonNull(criteria.get(setting.criterion()), "it was remembered when it was read");
    }

    void stageId(Section stage, String id) {
        Located key = stage.keyAt("id");
        Integer first = lines.putIfAbsent(id, key.line());
        if (first != null) {
            reading.problem(
                    key,
                    "a second stage is called '" + id + "', the first in line " + first
                            + "; give each stage an id of its own");
        }
    }

    void stageParts(Section stage, List<LoadKind> loads, Optional<Role> gpu, Optional<Role> proves, boolean ifPresent) {
        List<String> gpuLoads =
                loads.stream().filter(LoadKind::needsGpu).map(LoadKind::word).toList();
        boolean namesGpu = stage.keys().contains("gpu");
        if (gpuLoads.size() > 1) {
            reading.problem(
                    stage.keyAt("loads"),
                    "one GPU load at a time, here are " + String.join(", ", gpuLoads)
                            + "; make a stage of each, or use gpu-mix");
        }
        if (!gpuLoads.isEmpty() && !namesGpu) {
            stage.required("gpu", "gpu-discrete");
        }
        if (gpuLoads.isEmpty() && namesGpu) {
            reading.problem(stage.keyAt("gpu"), "gpu is named but no GPU load is; add one to loads, or take gpu out");
        }
        boolean memory = loads.contains(LoadKind.MEMORY);
        boolean share = stage.keys().contains("memory-share");
        if (memory && !share) {
            stage.required("memory-share", "25 %");
        }
        if (share && !memory && !loads.contains(LoadKind.GPU_MEMORY)) {
            reading.problem(
                    stage.keyAt("memory-share"),
                    "memory-share is given but the stage has no memory load; add memory to loads, or take it out");
        }
        if (ifPresent && gpuLoads.isEmpty()) {
            reading.problem(
                    stage.keyAt("if-present"),
                    "if-present is about the GPU of a stage, and this one has no GPU load; take it out");
        }
        if (stage.keys().contains("if-repaired") && gpuLoads.isEmpty()) {
            reading.problem(
                    stage.keyAt("if-repaired"),
                    "if-repaired is about the rails of a stage's GPU, and this one has no GPU load; take it out");
        }
        if (ifPresent && proves.isPresent()) {
            reading.problem(
                    stage.keyAt("if-present"),
                    "the stage proves " + proves.get().word()
                            + " and may be left out, so a run could end without that proof; take one of the two out");
        }
        proves.ifPresent(part -> {
            boolean loaded =
                    switch (part) {
                        case CPU -> loads.contains(LoadKind.CPU);
                        case MEMORY -> memory;
                        // A stage whose gpu was misspelt is not blamed a second time.
                        default -> !gpuLoads.isEmpty() && (gpu.isEmpty() || gpu.get() == part);
                    };
            if (!loaded) {
                reading.problem(
                        stage.keyAt("proves"),
                        "the stage proves " + part.word()
                                + " but puts no load on it; add the load, or take proves out");
            }
        });
    }

    /** What is asked for counts by the work that follows it, so something must be proved. */
    void stageAsks(Section stage, Optional<Ask> asks, Optional<Role> proves, boolean ifPresent) {
        if (!stage.keys().contains("proves")) {
            reading.problem(
                    stage.keyAt("asks"),
                    "the stage asks for something by hand but proves no part, so nothing would show that it was done for"
                            + " a purpose; add loads and proves, or take asks out");
        }
        if (ifPresent) {
            reading.problem(
                    stage.keyAt("asks"),
                    "a stage that may be left out must not wait for a person; take asks or if-present out");
        }
        if (asks.equals(Optional.of(Ask.COOL_DOWN)) && proves.equals(Optional.of(Role.MEMORY))) {
            reading.problem(
                    stage.keyAt("asks"),
                    "memory has no temperature by which its cooling could be seen; prove cpu or a GPU, or take asks out");
        }
    }

    void silence(Section safety, Duration silence, Duration sampling) {
        if (silence.compareTo(sampling.multipliedBy(2)) < 0) {
            reading.problem(
                    safety.keyAt("silent-after"),
                    "silent-after is shorter than two sampling periods, so one late sample would end the run; make it"
                            + " longer, or sampling shorter");
        }
    }

    /** Everything that needs more than one part of the file. */
    void whole(Procedure procedure, Section top) {
        procedure.stages().forEach(stage -> stageAndRest(stage, procedure));
        criteriaAndStages(procedure, top);
    }

    private void stageAndRest(Stage stage, Procedure procedure) {
        Section section = requireNonNull(stages.get(stage.id()), "it was remembered when it was read");
        stage.gpu()
                .filter(procedure.absent()::contains)
                .ifPresent(gpu -> reading.problem(
                        section.keyAt("gpu"),
                        "the stage loads " + gpu.word()
                                + ", which 'absent' says must not be there; take one of the two out"));
        Set<Role> heated = new LinkedHashSet<>();
        if (!stage.loads().isEmpty()) {
            // Whatever the load, the cores drive it.
            heated.add(Role.CPU);
        }
        stage.gpu().ifPresent(heated::add);
        heated.removeAll(procedure.safety().stopAboveCelsius().keySet());
        heated.forEach(part -> reading.problem(
                section.keyAt("loads"),
                "the stage heats " + part.word()
                        + " but safety stop-above has no ceiling for it; add there for example " + part.word()
                        + ": 100 Cel"));
    }

    private void criteriaAndStages(Procedure procedure, Section top) {
        if (procedure
                .setting(Criterion.EVIDENCE)
                .filter(CriterionSetting::mandatory)
                .isEmpty()) {
            reading.problem(
                    criteria.getOrDefault(Criterion.EVIDENCE, top.keyAt("criteria")),
                    "criterion evidence must be mandatory, or a broken log could pass; write evidence: {mandatory: yes}");
        }
        procedure.mandatory().forEach(setting -> {
            setting.criterion()
                    .load()
                    .filter(load -> procedure.stages().stream()
                            .noneMatch(stage -> stage.loads().contains(load)))
                    .ifPresent(load -> reading.problem(
                            keyOf(setting),
                            setting.criterion().word() + " is mandatory but no stage has the load " + load.word()
                                    + "; add such a stage, or write mandatory: no"));
            setting.criterion().needs().stream()
                    // A criterion about one load looks at the part that this load works on, proved or not.
                    .filter(need -> need.role().isPresent()
                            || setting.criterion().load().isEmpty())
                    .flatMap(need -> unmet(need, procedure).stream())
                    .distinct()
                    .forEach(why -> reading.problem(
                            keyOf(setting),
                            setting.criterion().word() + " is mandatory but " + why
                                    + "; add such a stage, or write mandatory: no"));
        });
        procedure
                .setting(Criterion.SOAK_DURATION)
                .ifPresent(s -> fits(procedure, s, Parameters.SoakDuration.AT_LEAST, 1));
        procedure.setting(Criterion.CLOCK_HELD).ifPresent(s -> fits(procedure, s, Parameters.ClockHeld.WINDOW, 2));
        procedure.setting(Criterion.COLD_STARTS).ifPresent(s -> enoughAsked(procedure, s));
        procedure
                .setting(Criterion.REPEAT_SOAK)
                .filter(CriterionSetting::mandatory)
                .filter(s -> !repeats(procedure))
                .ifPresent(s -> reading.problem(
                        keyOf(s),
                        s.criterion().word()
                                + " is mandatory but no stage with 'asks: cool-down' repeats an earlier one"
                                + " that proves the same part with the same loads; add such a stage, or write"
                                + " mandatory: no"));
        procedure
                .setting(Criterion.TEMPERATURE_CEILING)
                .ifPresent(s -> fits(procedure, s, Parameters.TemperatureCeiling.BLOCK, 1));
        procedure
                .setting(Criterion.TEMPERATURE_SETTLED)
                .ifPresent(s -> fits(procedure, s, Parameters.TemperatureSettled.WINDOW, 1));
    }

    private void enoughAsked(Procedure procedure, CriterionSetting setting) {
        Map<Ask, Parameter<Parameter.Count>> counts = new EnumMap<>(Map.of(
                Ask.POWER_OFF, Parameters.ColdStarts.BOOTS,
                Ask.SLEEP, Parameters.ColdStarts.SLEEPS,
                Ask.REPLUG, Parameters.ColdStarts.REPLUGS));
        if (counts.values().stream().allMatch(count -> setting.count(count) == 0)) {
            reading.problem(
                    keyOf(setting),
                    "cold-starts counts nothing; give boots, sleeps or replugs more than 0, or take the criterion out");
        }
        counts.forEach((ask, count) -> {
            long needed = setting.count(count);
            long asked = procedure.stages().stream()
                    .filter(s -> s.asks().equals(Optional.of(ask)))
                    .count();
            if (setting.mandatory() && asked < needed) {
                reading.problem(
                        keyOf(setting),
                        "cold-starts needs " + needed + " " + count.name() + " but " + asked + " stages have 'asks: "
                                + ask.word() + "'; add stages, or lower " + count.name());
            }
        });
    }

    private static boolean repeats(Procedure procedure) {
        List<Stage> stages = procedure.stages();
        for (int i = 0; i < stages.size(); i++) {
            Stage second = stages.get(i);
            if (second.asks().equals(Optional.of(Ask.COOL_DOWN))
                    && stages.subList(0, i).stream()
                            .anyMatch(first -> first.proves().equals(second.proves())
                                    && first.loads().equals(second.loads()))) {
                return true;
            }
        }
        return false;
    }

    /** Why no run of this procedure can bring what is needed; empty if one can. */
    private static Optional<String> unmet(Need need, Procedure procedure) {
        if (need.role().isEmpty()) {
            boolean possible = procedure.provedParts().stream()
                    .anyMatch(part -> part != Role.MEMORY || !NOT_OF_MEMORY.containsAll(need.anyOf()));
            return possible ? Optional.empty() : Optional.of("no stage proves a part that it could be judged on");
        }
        Role part = need.role().get();
        if (procedure.absent().contains(part)) {
            return Optional.of("it needs the " + part.word() + ", which 'absent' says must not be there");
        }
        boolean workOnly = Set.of(Metric.WORK_VERIFIED, Metric.WORK_ERRORS).containsAll(need.anyOf());
        boolean worked = procedure.stages().stream().anyMatch(stage -> loads(stage, part));
        return workOnly && !worked ? Optional.of("no stage loads " + part.word()) : Optional.empty();
    }

    private static boolean loads(Stage stage, Role part) {
        return switch (part) {
            case CPU -> stage.loads().contains(LoadKind.CPU);
            case MEMORY -> stage.loads().contains(LoadKind.MEMORY);
            default -> stage.gpu().equals(Optional.of(part));
        };
    }

    /** Every proved part must be loaded long enough for {@code times} spans of that parameter. */
    private void fits(
            Procedure procedure, CriterionSetting setting, Parameter<Parameter.Seconds> parameter, int times) {
        Duration needed =
                Duration.ofMillis(Math.round(setting.seconds(parameter) * 1e3)).multipliedBy(times);
        for (Role part : procedure.provedParts()) {
            Duration longest = procedure.longestStretch(part);
            if (setting.mandatory() && longest.compareTo(needed) < 0) {
                reading.problem(
                        keyOf(setting),
                        setting.criterion().word() + " needs " + written(needed) + " on " + part.word()
                                + " without a break (" + (times == 1 ? "" : times + " times ") + parameter.name()
                                + ") but the stages that prove it make at most " + written(longest)
                                + "; lengthen them, lower " + parameter.name()
                                + ", or take proves out of those stages");
            }
        }
    }

    private static String written(Duration duration) {
        return Measure.DURATION.write(duration.toMillis() / 1e3);
    }
}
