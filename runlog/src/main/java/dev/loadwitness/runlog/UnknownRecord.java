// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import static java.util.Objects.requireNonNull;

/**
 * A record of a kind newer than this program.
 *
 * @param must true if whoever does not understand it must not judge the run: the verdict is inconclusive
 */
public record UnknownRecord(String type, boolean must) implements LogRecord {
    public UnknownRecord {
        requireNonNull(type, "type");
    }

    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.unknown(this);
    }
}
