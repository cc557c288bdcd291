// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Role;
import java.time.Duration;
import java.util.Collections;
import java.util.Map;
import java.util.TreeMap;

/**
 * When the agent takes the load off by itself.
 *
 * @param stopAboveCelsius by part: one reading above it ends the run
 * @param silentAfter a temperature that answered before and has not for this long counts as above the ceiling
 * @param stopWhenAdapterLost whether losing the adapter ends the run
 * @param allowUnguarded whether a part may be loaded that no temperature sensor watches: attended runs only
 */
public record Safety(
        Map<Role, Double> stopAboveCelsius, Duration silentAfter, boolean stopWhenAdapterLost, boolean allowUnguarded) {
    public Safety {
        // In the order of the enum: an unordered copy would print differently from run to run.
        stopAboveCelsius = Collections.unmodifiableMap(new TreeMap<>(Map.copyOf(stopAboveCelsius)));
        requireNonNull(silentAfter, "silentAfter");
    }
}
