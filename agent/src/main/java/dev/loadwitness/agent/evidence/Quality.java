// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence;

/**
 * One kind of evidence, and whether this machine would have it after a death.
 *
 * @param what in a technician's words, for example {@code system log of earlier boots}
 * @param there whether it would be there
 * @param found what was found
 * @param whatToDo how to get it, or what it means to go without; empty if it is there
 */
public record Quality(String what, boolean there, String found, String whatToDo) {}
