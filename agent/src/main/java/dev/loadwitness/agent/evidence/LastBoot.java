// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence;

import java.nio.file.Path;
import java.time.Instant;
import java.util.List;
import java.util.Optional;

/**
 * What the log knows of the boot that ended.
 *
 * @param bootId that of the log's last segment; may be empty
 * @param lastSample of the last durable sample, or of the last record if there is no sample
 * @param clocksTrusted whether the wall clock was right both then and is so now
 * @param crashFolders where the agent's Java would have left a crash report (hs_err_pid*.log); empty if it writes none
 */
public record LastBoot(String bootId, Optional<Instant> lastSample, boolean clocksTrusted, List<Path> crashFolders) {
    public LastBoot {
        crashFolders = List.copyOf(crashFolders);
    }

    /** The last sample's time, if it can be compared with times of this boot. */
    public Optional<Instant> comparable() {
        return clocksTrusted ? lastSample : Optional.empty();
    }
}
