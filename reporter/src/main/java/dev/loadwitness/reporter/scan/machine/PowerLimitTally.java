// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.runlog.Role;

/**
 * Power limit of one part while on mains.
 *
 * @param highestWatts NaN if none was read on mains
 */
public record PowerLimitTally(Role role, double highestWatts) {}
