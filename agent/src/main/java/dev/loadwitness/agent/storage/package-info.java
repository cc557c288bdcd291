// SPDX-License-Identifier: Apache-2.0
/** The log and the journal of attempts while their disk is slow, full or gone. */
package dev.loadwitness.agent.storage;
