// SPDX-License-Identifier: Apache-2.0
/** The commands, one class each: they read arguments, find the parts and hand back an exit status. */
package dev.loadwitness.agent.command;
