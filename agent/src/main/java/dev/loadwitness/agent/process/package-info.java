// SPDX-License-Identifier: Apache-2.0
/** Starts processes with an environment made here, and asks on threads that can be spared. */
package dev.loadwitness.agent.process;
