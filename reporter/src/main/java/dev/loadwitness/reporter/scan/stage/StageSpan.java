// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

/**
 * A stage as it really ran.
 *
 * @param startSeconds and {@code endSeconds} since the start of its segment
 * @param end how it ended: {@code completed}, {@code stopped}, or {@code interrupted} if the log breaks off
 */
public record StageSpan(String stage, int segment, double startSeconds, double endSeconds, String end) {}
