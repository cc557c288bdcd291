// SPDX-License-Identifier: Apache-2.0
/** What Loadwitness left on a machine after it was killed, and how that goes away. */
package dev.loadwitness.agent.leftover;
