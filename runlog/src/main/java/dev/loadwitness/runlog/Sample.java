// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.time.Instant;

/**
 * All channels at one moment.
 *
 * @param values in the order of the channel table in force and in its units; NaN where a channel gave no answer, which
 *     is {@code null} in the file. The array is handed over, not copied: whoever passes it on must not change it.
 */
@SuppressWarnings("ArrayRecordComponent") // millions of these pass through the reporter; a list would box every value
public record Sample(RunTime at, Instant utc, double[] values) implements LogRecord {
    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.sample(this);
    }
}
