// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.time.Instant;

/**
 * The end of a run: nothing follows it, and without it nothing passes.
 *
 * @param reason a word of {@link CloseReason}, or one that this version does not know
 * @param detail one sentence for people; may be empty
 * @param samples samples in the whole log
 * @param events events in the whole log
 */
public record Close(RunTime at, Instant utc, String reason, String detail, long samples, long events)
        implements LogRecord {
    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.close(this);
    }
}
