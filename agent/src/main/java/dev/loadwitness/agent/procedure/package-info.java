// SPDX-License-Identifier: Apache-2.0
/** What is to be run: procedures and job sheets as files, as this program came with them, and as a person agrees to them. */
package dev.loadwitness.agent.procedure;
