// SPDX-License-Identifier: Apache-2.0
/**
 * What the system can tell of how the last boot ended, as the facts of {@link dev.loadwitness.runlog.ending.Fact}, and how
 * good that evidence would be on this machine. Nothing here touches a graphics driver: it may be what ended the boot.
 */
package dev.loadwitness.agent.evidence;
