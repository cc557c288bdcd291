// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.probe;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.Need;
import dev.loadwitness.runlog.procedure.Procedure;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import java.util.stream.Collectors;

/**
 * A criterion that this machine's channels cannot feed.
 *
 * @param part whose channels are missing
 * @param mandatory whether the procedure makes it decide; then the run can end no better than inconclusive
 */
public record Unjudged(Criterion criterion, Role part, boolean mandatory, String missing) {
    /** For a procedure's criteria and proved parts; without one, for all criteria and CPU and discrete GPU. */
    public static List<Unjudged> of(List<Channel> channels, Optional<Procedure> procedure) {
        List<Role> parts = procedure.map(Procedure::provedParts).orElse(List.of(Role.CPU, Role.GPU_DISCRETE));
        List<Criterion> criteria = procedure
                .map(p -> p.criteria().stream().map(CriterionSetting::criterion).toList())
                .orElse(Arrays.asList(Criterion.values()));
        List<Unjudged> unjudged = new ArrayList<>();
        for (Criterion criterion : criteria) {
            boolean mandatory = procedure
                    .flatMap(p -> p.setting(criterion))
                    .map(CriterionSetting::mandatory)
                    .orElse(false);
            for (Role part : parts) {
                for (Need need : criterion.needs()) {
                    Role role = need.role().orElse(part);
                    if (!fedByOurLoads(need) && need.anyOf().stream().noneMatch(m -> has(channels, role, m))) {
                        unjudged.add(new Unjudged(criterion, role, mandatory, names(need)));
                    }
                }
            }
        }
        return unjudged.stream().distinct().toList();
    }

    /** Work is counted by the load itself: it is there whenever the load runs. */
    private static boolean fedByOurLoads(Need need) {
        return need.anyOf().contains(Metric.WORK_VERIFIED) || need.anyOf().contains(Metric.WORK_ERRORS);
    }

    private static boolean has(List<Channel> channels, Role role, Metric metric) {
        return channels.stream().anyMatch(c -> c.is(role, metric));
    }

    private static String names(Need need) {
        return need.anyOf().stream().map(Metric::name).collect(Collectors.joining(" or "));
    }
}
