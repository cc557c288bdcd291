// SPDX-License-Identifier: Apache-2.0
/** How a boot ended: which causes the evidence leaves open, and what excluded the others. Both programs ask it. */
package dev.loadwitness.runlog.ending;
