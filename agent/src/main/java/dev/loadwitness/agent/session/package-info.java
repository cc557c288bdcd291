// SPDX-License-Identifier: Apache-2.0
/** One run from its first check to its closed log. */
package dev.loadwitness.agent.session;
