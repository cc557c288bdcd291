// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.belief;

import dev.loadwitness.runlog.Role;

/**
 * What our own load did on one part over the whole run.
 *
 * @param verified units found right
 * @param errors units found wrong; NaN if nothing counted them
 */
public record WorkTally(Role role, double verified, double errors) {}
