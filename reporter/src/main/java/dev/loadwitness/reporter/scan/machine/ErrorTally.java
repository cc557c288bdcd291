// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import org.jspecify.annotations.Nullable;

/**
 * One counter of errors that the platform reports, over the whole run.
 *
 * @param loaded growth during stages with a load, and {@code loadedSeconds} their sampled time
 * @param idle growth during stages without one, and {@code idleSeconds} their sampled time
 * @param total growth over the run
 * @param first when it first grew; null if never
 */
public record ErrorTally(
        Channel channel,
        boolean answered,
        double loaded,
        double loadedSeconds,
        double idle,
        double idleSeconds,
        double total,
        @Nullable At first) {}
