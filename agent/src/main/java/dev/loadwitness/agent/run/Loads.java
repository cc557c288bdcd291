// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.util.ArrayList;
import java.util.EnumMap;
import java.util.EnumSet;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Collectors;
import org.jspecify.annotations.Nullable;

/** The loads of the stage that runs, and what those of all stages have done. */
final class Loads {
    private final Work.Starter starter;
    private final Records records;
    private final List<Role> roles;
    private final EnumMap<Role, Long> verifiedBefore = new EnumMap<>(Role.class);
    private final EnumMap<Role, Long> errorsBefore = new EnumMap<>(Role.class);
    private final List<Work> works = new ArrayList<>();
    private @Nullable Stage stage;

    Loads(Procedure procedure, Work.Starter starter, Records records) {
        this.starter = starter;
        this.records = records;
        this.roles = procedure.stages().stream()
                .flatMap(s -> s.loads().stream().map(l -> roleOf(l, s)))
                .distinct()
                .toList();
    }

    static Role roleOf(LoadKind load, Stage stage) {
        return switch (load) {
            case CPU -> Role.CPU;
            case MEMORY -> Role.MEMORY;
            default -> stage.gpu().orElseThrow();
        };
    }

    private Role roleOf(Work work) {
        return roleOf(work.kind(), requireNonNull(stage, "nothing works before a stage"));
    }

    /** The parts that are loaded at some time. */
    List<Role> roles() {
        return roles;
    }

    /** Starts those of a stage; says why if one could not be. */
    Optional<String> start(Stage of) {
        stage = of;
        for (LoadKind load : stage.loads()) {
            try {
                Work work = starter.start(load, stage);
                works.add(work);
                Map<String, Object> begin = Records.facts(
                        "load", load.word(), "role", roleOf(load, stage).word(), "scheduling", work.scheduling());
                begin.putAll(work.device());
                records.event(EventKind.LOAD_BEGIN, begin);
            } catch (IOException e) {
                return Optional.of("the " + load.word() + " load could not be started: " + e.getMessage());
            }
        }
        return Optional.empty();
    }

    /** What happened to them is told; says which is of no use any more. */
    Optional<String> check(long now) {
        for (Work work : works) {
            for (Work.Fact fact : work.check(now)) {
                records.event(fact.kind(), fact.facts());
                if (fact.fatal()) {
                    return Optional.of("the " + work.kind().word() + " load is gone");
                }
            }
        }
        return Optional.empty();
    }

    boolean areReady() {
        return works.stream().allMatch(Work::ready);
    }

    /** How long the slowest may take to be. */
    long readyWithinNanos() {
        return works.stream().mapToLong(w -> w.readyWithin().toNanos()).max().orElse(0);
    }

    /** For people, which are not. */
    String late() {
        return works.stream()
                .filter(w -> !w.ready())
                .map(w -> "the " + w.kind().word() + " load did not begin to work within "
                        + w.readyWithin().toSeconds() + " s")
                .collect(Collectors.joining(", "));
    }

    List<Work> running() {
        return works;
    }

    /** The parts that are loaded now. */
    Set<Role> loaded() {
        Set<Role> roles = EnumSet.noneOf(Role.class);
        works.forEach(w -> roles.add(roleOf(w)));
        return roles;
    }

    double verified(Role role) {
        long sum = verifiedBefore.getOrDefault(role, 0L);
        for (Work work : works) {
            sum += roleOf(work) == role ? work.verified() : 0;
        }
        return sum;
    }

    double errors(Role role) {
        long sum = errorsBefore.getOrDefault(role, 0L);
        for (Work work : works) {
            sum += roleOf(work) == role ? work.errors() : 0;
        }
        return sum;
    }

    /** Tells each what its part draws: by the sensor of the same device, else by any of the same role. */
    void power(List<Channel> sensors, double[] values) {
        works.forEach(work -> power(work, sensors, values));
    }

    private void power(Work work, List<Channel> sensors, double[] values) {
        double watts = Double.NaN;
        for (int i = 0; i < sensors.size(); i++) {
            Channel c = sensors.get(i);
            if (!c.is(roleOf(work), Metric.POWER) || Double.isNaN(values[i])) {
                continue;
            }
            boolean same = !work.component().isEmpty() && c.component().equals(work.component());
            if (same || Double.isNaN(watts)) {
                watts = values[i];
            }
            if (same) {
                break;
            }
        }
        if (!Double.isNaN(watts)) {
            work.power(watts);
        }
    }

    void stop() {
        for (Work work : works) {
            work.stop();
            Role role = roleOf(work);
            verifiedBefore.merge(role, work.verified(), Long::sum);
            errorsBefore.merge(role, work.errors(), Long::sum);
            records.event(EventKind.LOAD_END, "load", work.kind().word(), "why", "stopped");
        }
        works.clear();
    }
}
