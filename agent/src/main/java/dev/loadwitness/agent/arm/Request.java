// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm;

import static java.util.Objects.requireNonNull;

import java.nio.file.Path;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/**
 * What to arm for.
 *
 * @param folder that holds the run's log, or says where that is; absolute
 * @param writable further folders that going on writes to: of the log while it is elsewhere, of the journal
 * @param machine facts of the group {@code machine}
 */
public record Request(
        String runId,
        Path folder,
        List<Path> writable,
        Optional<Path> journal,
        Map<String, String> machine,
        int boots,
        Instant expires) {
    public Request {
        requireNonNull(runId, "runId");
        requireNonNull(folder, "folder");
        writable = List.copyOf(writable);
        requireNonNull(journal, "journal");
        machine = Map.copyOf(machine);
        requireNonNull(expires, "expires");
    }

    public ArmedState state(Path root) {
        return ArmedState.of(runId, folder, journal, machine, root, boots, expires);
    }
}
