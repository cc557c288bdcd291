// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.runlog.procedure.Procedure;
import java.util.Optional;

/**
 * How to scan.
 *
 * @param judgedBy the procedure whose parameters count; empty for the run's own
 * @param series whether to thin every channel for drawing
 */
public record ScanOptions(Optional<Procedure> judgedBy, boolean series) {}
