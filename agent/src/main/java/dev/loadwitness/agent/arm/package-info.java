// SPDX-License-Identifier: Apache-2.0
/** How this program is started again by itself after the machine died, for one run, and how that is taken back. */
package dev.loadwitness.agent.arm;
