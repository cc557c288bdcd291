// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.rule;

import dev.loadwitness.reporter.scan.Scan;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.util.Optional;
import java.util.OptionalDouble;

/**
 * The fixed watts that a full load is measured against: the rated graphics power of the job sheet, else the highest
 * limit that the machine showed on mains. A limit that drops is an episode of its own, never an excuse.
 *
 * @param watts empty if neither is known: then the work rate decides, and the finding says so
 * @param independent whether it is known otherwise than from the device, whose sensor errs as its limit does
 * @param origin for people
 */
public record Reference(OptionalDouble watts, boolean independent, String origin) {
    public static Reference of(Role part, Scan scan, Optional<JobSheet> jobSheet) {
        if (part == Role.GPU_DISCRETE) {
            OptionalDouble rated = jobSheet.map(JobSheet::ratedGraphicsWatts).orElse(OptionalDouble.empty());
            if (rated.isPresent()) {
                return new Reference(rated, true, "job sheet");
            }
        }
        return scan.powerLimit(part)
                .map(l -> new Reference(
                        OptionalDouble.of(l.highestWatts()),
                        false,
                        "device (highest limit shown on mains; rating unknown)"))
                .orElse(new Reference(OptionalDouble.empty(), false, ""));
    }
}
