// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.machine;

import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Role;
import org.jspecify.annotations.Nullable;

/**
 * Whether a part slept, over the run.
 *
 * @param readings how often the kernel told
 * @param unread samples in which it did not although there is a channel for it
 * @param firstAwake null if it slept whenever it was told
 */
public record AwakeTally(
        Role role, long readings, long unread, @Nullable At firstAwake) {}
