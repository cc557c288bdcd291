// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import static java.util.Objects.requireNonNull;

import java.time.Duration;
import java.util.Optional;

/**
 * How to scan.
 *
 * @param block length of the temperature means; empty for what the run's own procedure says
 * @param series whether to thin every channel for drawing
 */
public record ScanOptions(Optional<Duration> block, boolean series) {
    public ScanOptions {
        requireNonNull(block, "block");
    }
}
