// SPDX-License-Identifier: Apache-2.0
/**
 * The management library of NVIDIA's driver, asked in a process of its own: a faulty GPU's driver may hang or crash
 * whoever asks it.
 *
 * <p>Constants, structures and units are those of {@code nvml.h} (API version 13) as listed in the project's check
 * values, section G.1; field numbers and the structures of samples and field values from its published language
 * bindings. Return codes travel as they came.
 *
 * <p>The two processes talk in lines of ASCII, whose parts are separated by tabs. To the server, on its standard input:
 *
 * <ul>
 *   <li>{@code beat} once a second: the parent lives. Without any line for five seconds, or at the end of its input, the
 *       server ends at once.
 *   <li>{@code N open ADDRESS…}: load the library, initialise it once, find what the named parts offer (all parts if none is
 *       named). N is the number of the question.
 *   <li>{@code N read}: ask for everything.
 *   <li>{@code stop}: end.
 * </ul>
 *
 * <p>From the server, after {@code open}: for each part {@code gpu ADDRESS}, its {@code offer NAME LABEL LIMITS} and
 * {@code absent NAME CODE} lines (see {@link Offer}), or {@code unreachable ADDRESS CODE}; then {@code opened} or
 * {@code failed TEXT}. After {@code read}: {@code lost ADDRESS CODE} for each part whose answers said so,
 * {@code restarted TEXT} if the library had to be initialised again; then {@code values V…}, in the order of the offers,
 * {@code -} where there was no answer, or {@code failed TEXT}. Each answer ends with {@code end N}.
 *
 * <p>The library lives in the server's process and can write wherever the server can. So the parent takes nothing that the
 * server of this program would not have said: any other line, an answer that nobody asked for, too much of anything, and
 * the process is ended and replaced as after a crash.
 */
package dev.loadwitness.agent.sensor.gpu;
