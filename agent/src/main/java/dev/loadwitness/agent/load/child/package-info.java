// SPDX-License-Identifier: Apache-2.0
/** Entry point of the process that a load runs in; the protocol is described with {@link dev.loadwitness.agent.load}. */
package dev.loadwitness.agent.load.child;
