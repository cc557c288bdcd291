// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/**
 * A record of a kind newer than this program.
 *
 * @param must true if whoever does not understand it must not judge the run: the verdict is inconclusive
 */
public record UnknownRecord(String type, boolean must) implements LogRecord {
    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.unknown(this);
    }
}
