// SPDX-License-Identifier: Apache-2.0
/**
 * The words of a run: header, boot, channels, sample, event, close; channels and their units.
 *
 * <p>Data only. How these words lie on disk is {@link dev.loadwitness.runlog.file}'s business.
 */
package dev.loadwitness.runlog;
