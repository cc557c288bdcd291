// SPDX-License-Identifier: Apache-2.0
/** What can be judged on this machine, and what is missing for more. */
package dev.loadwitness.agent.probe;
