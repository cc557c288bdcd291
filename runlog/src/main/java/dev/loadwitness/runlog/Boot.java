// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.time.Instant;
import java.util.Optional;

/**
 * The start of a segment: written at the start of the run and first thing after every restart.
 *
 * @param at position; {@code nanos} counts from the agent's own start in this segment
 * @param bootId the operating system's identity of this boot; empty if it has none
 * @param bootTimeSeconds time since power-on with suspended time counted; NaN if unknown
 * @param utcTrusted false if the clock is implausible (before the run began, or before this program was built)
 * @param torn the bytes after the last whole record, if a crash left any
 */
public record Boot(
        RunTime at, Instant utc, String bootId, double bootTimeSeconds, boolean utcTrusted, Optional<TornTail> torn)
        implements LogRecord {
    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.boot(this);
    }
}
