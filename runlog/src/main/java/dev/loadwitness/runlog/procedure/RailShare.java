// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static java.util.Objects.requireNonNull;

import java.time.Duration;

/**
 * How long a stage takes instead if the job sheet names a rail as repaired.
 *
 * @param rail as the job sheet's {@code repaired-rail} names it
 */
public record RailShare(String rail, Duration duration) {
    public RailShare {
        requireNonNull(rail, "rail");
        requireNonNull(duration, "duration");
    }
}
