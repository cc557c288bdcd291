// SPDX-License-Identifier: Apache-2.0
/**
 * Mathematics on numbers: nothing here has heard of sensors, logs or limits of a machine. Every formula, its source and its
 * answer for too little data stand in {@code docs/computation.md}.
 *
 * <p>Common to all: a value that is not finite is refused with {@link IllegalArgumentException} (a reading without an answer
 * is never a number), and a figure that the data cannot support is NaN or an empty {@code Optional}, never a guess. Accumulators
 * belong to one thread.
 */
package dev.loadwitness.reporter.statistics;
