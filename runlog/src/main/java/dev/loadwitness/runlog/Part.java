// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/**
 * First record of a further file of the same log, begun because a force failed: what the earlier file holds after
 * {@code goodBytes} was never known to be on disk and is written again here.
 *
 * @param number 2 for the second file, and so on
 * @param goodBytes length of the earlier file up to and with the line feed of the last record known to be on disk
 * @param goodChain that record's chain value, to which this record chains
 */
public record Part(String runId, int number, long goodBytes, String goodChain) implements LogRecord {
    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.part(this);
    }
}
