// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Role;
import java.time.Duration;
import java.util.Collections;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.TreeSet;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/**
 * Which stages run, when the load comes off by itself, and which criteria decide.
 *
 * @param absent parts that must be absent, or suspended, throughout
 * @param onInterruption what happens after the run broke off
 */
public record Procedure(
        String name,
        String title,
        Duration samplingPeriod,
        List<Stage> stages,
        Set<Role> absent,
        Safety safety,
        OnInterruption onInterruption,
        DecisionRule decision,
        List<CriterionSetting> criteria) {
    public Procedure {
        stages = List.copyOf(stages);
        // In the order of the enum: an unordered copy would print differently from run to run.
        absent = Collections.unmodifiableSet(new TreeSet<>(Set.copyOf(absent)));
        criteria = List.copyOf(criteria);
    }

    /** The same with other stages: what is left where some are left out. */
    public Procedure withStages(List<Stage> others) {
        return new Procedure(name, title, samplingPeriod, others, absent, safety, onInterruption, decision, criteria);
    }

    /**
     * What is run, and judged, where this procedure is used on a job whose sheet says {@code repairedRail}: stages take the
     * time that they give a rail named there. Agent and reporter both ask here, with the sheet that the run began with, so
     * that they speak of the same stages.
     *
     * @param repairedRail free text, see {@link GraphicsRail#named}; empty where there is no sheet
     */
    public Procedure forRail(String repairedRail) {
        Set<GraphicsRail> rails = GraphicsRail.named(repairedRail);
        return withStages(stages.stream().map(stage -> stage.forRails(rails)).toList());
    }

    /** Rails for whose repair some stage takes longer. */
    public Set<GraphicsRail> railsWithAShare() {
        return stages.stream()
                .flatMap(stage -> stage.ifRepaired().stream())
                .map(RailShare::rail)
                .collect(Collectors.toCollection(TreeSet::new));
    }

    /** Time that all stages take together. */
    public Duration duration() {
        return stages.stream().map(Stage::duration).reduce(Duration.ZERO, Duration::plus);
    }

    /**
     * Longest time for which consecutive stages prove {@code part} without a break: no run of this procedure can show a
     * longer soak.
     */
    public Duration longestStretch(Role part) {
        Duration longest = Duration.ZERO;
        Duration stretch = Duration.ZERO;
        for (Stage stage : stages) {
            // What a stage asks for takes the load off before it.
            Duration before = stage.asks().isPresent() ? Duration.ZERO : stretch;
            stretch = stage.proves().equals(Optional.of(part)) ? before.plus(stage.duration()) : Duration.ZERO;
            longest = stretch.compareTo(longest) > 0 ? stretch : longest;
        }
        return longest;
    }

    /** Parts whose soak time counts, in the order in which the stages prove them. */
    public List<Role> provedParts() {
        return stages.stream().flatMap(s -> s.proves().stream()).distinct().toList();
    }

    /** Devices without which the stages cannot run. */
    public Set<Role> requiredDevices() {
        return stages.stream()
                .filter(s -> !s.ifPresent())
                .flatMap(s -> s.gpu().stream())
                .collect(Collectors.toCollection(TreeSet::new));
    }

    public Optional<CriterionSetting> setting(Criterion criterion) {
        return criteria.stream().filter(c -> c.criterion() == criterion).findFirst();
    }

    /** The same; one that this procedure does not list has its defaults, and decides nothing. */
    public CriterionSetting settingOrDefaults(Criterion criterion) {
        return setting(criterion).orElse(new CriterionSetting(criterion, false, Map.of()));
    }

    public Stream<CriterionSetting> mandatory() {
        return criteria.stream().filter(CriterionSetting::mandatory);
    }
}
