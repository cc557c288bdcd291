// SPDX-License-Identifier: Apache-2.0
/** What this program says of itself: its version and its exit statuses. */
package dev.loadwitness.agent.program;
