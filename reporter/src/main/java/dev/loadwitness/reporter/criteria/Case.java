// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.procedure.Procedure;
import java.util.List;
import java.util.Optional;

/**
 * What is judged, and by what.
 *
 * @param judgedBy the procedure whose criteria decide; the run's own unless other criteria were asked for
 */
public record Case(Scan scan, Procedure judgedBy, Optional<JobSheet> jobSheet) {
    public Case {
        requireNonNull(scan, "scan");
        requireNonNull(judgedBy, "judgedBy");
        requireNonNull(jobSheet, "jobSheet");
    }

    /** The parts that the run set out to prove. */
    List<Role> parts() {
        return scan.procedure().provedParts();
    }

    /** Of these, the parts with a temperature and a power of their own: all but memory. */
    List<Role> chips() {
        return parts().stream().filter(part -> part != Role.MEMORY).toList();
    }
}
