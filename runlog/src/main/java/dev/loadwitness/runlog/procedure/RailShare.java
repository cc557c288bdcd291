// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import java.time.Duration;

/**
 * How long a stage takes instead if the job sheet names a rail as repaired.
 *
 * @param duration longer than the stage takes otherwise
 */
public record RailShare(GraphicsRail rail, Duration duration) {}
