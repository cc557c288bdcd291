// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static java.util.Objects.requireNonNull;

import java.time.Duration;

/**
 * How long a stage takes instead if the job sheet names a rail as repaired.
 *
 * @param duration longer than the stage takes otherwise
 */
public record RailShare(GraphicsRail rail, Duration duration) {
    public RailShare {
        requireNonNull(rail, "rail");
        requireNonNull(duration, "duration");
    }
}
