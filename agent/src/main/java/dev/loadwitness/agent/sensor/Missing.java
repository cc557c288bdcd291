// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

/**
 * Something that could be measured on a laptop and is not offered here.
 *
 * @param what in a technician's words, for example {@code CPU temperature}
 * @param why what was found instead
 * @param whatToDo how to get it, or what it means to go on without
 */
public record Missing(String what, String why, String whatToDo) {}
