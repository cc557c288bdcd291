// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.runlog.Channel;
import java.util.Arrays;

/**
 * How a temperature of the proved part's chip went through one stage.
 *
 * @param binSeconds length of each bin, the first from the stage's begin
 * @param means by bin, in degrees Celsius; NaN for a bin without readings
 */
@SuppressWarnings("ArrayRecordComponent") // thousands of numbers
public record StageTemperature(Channel channel, double binSeconds, double[] means) {
    /** Means of the bins that lie wholly between two moments, in seconds since the stage's begin; empty bins left out. */
    public double[] between(double from, double to) {
        int first = (int) Math.ceil(from / binSeconds - 1e-6);
        int end = Math.min(means.length, (int) Math.floor(to / binSeconds + 1e-6));
        return first >= end
                ? new double[0]
                : Arrays.stream(means, first, end).filter(m -> !Double.isNaN(m)).toArray();
    }
}
