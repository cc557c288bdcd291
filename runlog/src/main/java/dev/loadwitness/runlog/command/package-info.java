// SPDX-License-Identifier: Apache-2.0
/** What both programs have around their commands: how they end, how they complain, what they may write to a terminal. */
package dev.loadwitness.runlog.command;
