// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.runlog.Role;

/**
 * Power of one part during one stage, without its first ten seconds, in which loads come up.
 *
 * @param meanWatts by the energy counter, else by the readings (trapezoid); 0 while the part was asleep; NaN if neither
 *     answered
 * @param joulesCounted and {@code joulesAdded}: by the counter, and by the readings added up (trapezoid), over the same
 *     pairs of samples
 * @param comparedSeconds time of those pairs
 */
public record PowerTally(
        Role role, double meanWatts, double joulesCounted, double joulesAdded, double comparedSeconds) {}
