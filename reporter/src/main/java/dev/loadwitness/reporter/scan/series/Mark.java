// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.series;

/** An event worth drawing on a chart. */
public record Mark(int segment, double atSeconds, String text) {}
