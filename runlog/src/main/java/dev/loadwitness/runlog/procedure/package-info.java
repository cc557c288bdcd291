// SPDX-License-Identifier: Apache-2.0
/** Stages and criteria (id, parameters, required channels) as a technician writes them; checked whole. */
package dev.loadwitness.runlog.procedure;
