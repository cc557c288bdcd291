// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.heat;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import org.jspecify.annotations.Nullable;

/**
 * One temperature channel over the run. All values in degrees Celsius.
 *
 * @param readings how many answers there were
 * @param hottestMean highest mean of a full block; NaN if no block was full
 * @param hottestDeviation standard deviation of the readings within that block; NaN if there is none
 * @param hottestCount readings within that block
 * @param hottestAt start of that block; null if there is none
 * @param peak highest single reading; NaN if there is none
 * @param peakAt null if there is none
 */
public record TemperatureTally(
        Channel channel,
        long readings,
        double hottestMean,
        double hottestDeviation,
        long hottestCount,
        @Nullable At hottestAt,
        double peak,
        @Nullable At peakAt) {}
