// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.util.List;
import java.util.Optional;

/**
 * Channels without which a criterion stays unjudged.
 *
 * @param role whose; empty for the part that the stage proves
 * @param anyOf one of these is enough
 */
public record Need(Optional<Role> role, List<Metric> anyOf) {
    public Need {
        anyOf = List.copyOf(anyOf);
    }

    static Need ofProvedPart(Metric... anyOf) {
        return new Need(Optional.empty(), List.of(anyOf));
    }
}
