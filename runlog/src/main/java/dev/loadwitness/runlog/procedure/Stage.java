// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import dev.loadwitness.runlog.Role;
import java.time.Duration;
import java.util.List;
import java.util.Optional;
import java.util.Set;

/**
 * One part of a run: loads, for a time.
 *
 * @param loads empty for an idle stage
 * @param gpu which GPU the {@code gpu-} loads run on; empty if there are none
 * @param proves the part for which this stage's time counts as soak; empty if it counts for none
 * @param memoryShare share of free memory that the memory load tests, or of a GPU's memory; above 0 and at most 0.9, or 0
 *     where none is given
 * @param ifPresent whether the stage is left out where its GPU is not there; else a run needs it
 * @param asks what a person has to do before the load begins
 * @param ifRepaired longer durations, by repaired rail; each rail once
 */
public record Stage(
        String id,
        List<LoadKind> loads,
        Optional<Role> gpu,
        Optional<Role> proves,
        Duration duration,
        double memoryShare,
        boolean ifPresent,
        Optional<Ask> asks,
        List<RailShare> ifRepaired) {
    /** A stage that every run needs. */
    public Stage(
            String id,
            List<LoadKind> loads,
            Optional<Role> gpu,
            Optional<Role> proves,
            Duration duration,
            double memoryShare) {
        this(id, loads, gpu, proves, duration, memoryShare, false, Optional.empty(), List.of());
    }

    public Stage {
        loads = List.copyOf(loads);
        ifRepaired = List.copyOf(ifRepaired);
    }

    /** Whether it takes as long as it does because of a repaired rail. */
    public boolean isLengthened() {
        return ifRepaired.stream().anyMatch(share -> share.duration().equals(duration));
    }

    /** The same for a repair of {@code rails}: the longest of the durations that they ask for. */
    Stage forRails(Set<GraphicsRail> rails) {
        Duration longest = ifRepaired.stream()
                .filter(share -> rails.contains(share.rail()))
                .map(RailShare::duration)
                .reduce(duration, (a, b) -> a.compareTo(b) >= 0 ? a : b);
        return new Stage(id, loads, gpu, proves, longest, memoryShare, ifPresent, asks, ifRepaired);
    }
}
