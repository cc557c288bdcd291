// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.procedure.Procedure;
import java.util.EnumMap;
import java.util.IdentityHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/** What is judged, and by what. Used by one thread. */
public final class Case {
    private final Scan scan;
    private final Procedure judgedBy;
    private final Optional<JobSheet> jobSheet;
    private final IdentityHashMap<StageTally, Map<Role, Warming>> warmings = new IdentityHashMap<>();

    /** @param judgedBy the procedure whose criteria decide; the run's own unless other criteria were asked for */
    public Case(Scan scan, Procedure judgedBy, Optional<JobSheet> jobSheet) {
        this.scan = scan;
        this.judgedBy = judgedBy;
        this.jobSheet = jobSheet;
    }

    public Scan scan() {
        return scan;
    }

    public Procedure judgedBy() {
        return judgedBy;
    }

    public Optional<JobSheet> jobSheet() {
        return jobSheet;
    }

    /** How a part warmed in a stage of the run; fitted once, since several criteria ask. */
    public Warming warming(StageTally stage, Role part) {
        return warmings.computeIfAbsent(stage, s -> new EnumMap<>(Role.class))
                .computeIfAbsent(part, p -> Warming.of(stage, p, scan));
    }

    /** The parts that the run set out to prove. */
    public List<Role> parts() {
        return scan.procedure().provedParts();
    }

    /** Of these, the parts with a temperature and a power of their own: all but memory. */
    public List<Role> chips() {
        return parts().stream().filter(part -> part != Role.MEMORY).toList();
    }
}
