// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/**
 * An earlier run on the same ticket, as the journal beside the logs remembers it.
 *
 * @param lastChain the last chain value seen, so that cutting or swapping that log afterwards shows
 * @param end the close reason's word, or {@code open} if the journal saw no close
 */
public record EarlierAttempt(String runId, String lastChain, String end) {}
