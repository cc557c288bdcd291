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
 *   <li>{@code open ADDRESS…}: load the library, initialise it once, find what the named parts offer (all parts if none is
 *       named).
 *   <li>{@code read}: ask for everything.
 *   <li>{@code stop}: end.
 * </ul>
 *
 * <p>From the server, on its standard output, after {@code open}: for each part {@code gpu ADDRESS NAME}, its
 * {@code offer} and {@code absent} lines (see {@link Offer}), or {@code unreachable ADDRESS CODE}; at the end
 * {@code opened DRIVER} or {@code failed CODE TEXT}. After {@code read}: {@code lost ADDRESS CODE} for each part whose
 * answers said so, {@code restarted TEXT} if the library had to be initialised again, and at the end
 * {@code values V…}, in the order of the offers, {@code -} where there was no answer, or {@code failed CODE TEXT}.
 */
package dev.loadwitness.agent.sensor.gpu;
