// SPDX-License-Identifier: Apache-2.0
/**
 * Starts, watches and stops load workers.
 *
 * <p>A load runs in a process of its own, so that neither its garbage collector nor its death can touch the sampler. The
 * two talk in lines of UTF-8. To the worker, on its standard input:
 *
 * <ul>
 *   <li>{@code beat} once a second: the parent lives. A worker that hears nothing for five seconds, or the end of its input,
 *       ends at once: no load outlives its parent, however that died.
 *   <li>{@code plant}: make a coming result wrong, which the ordinary verification must find.
 *   <li>{@code power WATTS}: what the loaded part draws, each time that it was read.
 *   <li>{@code stop}: end.
 * </ul>
 *
 * <p>From the worker, on its standard output:
 *
 * <ul>
 *   <li>{@code ready}: the first unit was found right.
 *   <li>{@code progress NANOS VERIFIED ERRORS}, five times a second: its own monotonic time since it began, units found
 *       right and units found wrong since then.
 *   <li>{@code planted-caught}: the planted result was found wrong. It counts as neither right nor wrong.
 *   <li>{@code error TEXT}: a result was wrong; the first hundred are told.
 *   <li>{@code failed TEXT}: it cannot go on, and why.
 *   <li>{@code lost TEXT}: the device does not answer any more; it ends.
 *   <li>{@code level LEVEL SECONDS}: it works at this share of full load, so long after it was to.
 *   <li>{@code edges PERIOD DUTY SINCE EDGES}: it switched on and off; see {@link dev.loadwitness.agent.load.LoadFact.Edges}.
 *   <li>{@code tuned watts|rate VALUE tried|chosen TEXT}: what the search for the heaviest load tried.
 *   <li>{@code note TEXT}: for whoever watches.
 * </ul>
 *
 * <p>The code of a graphics driver runs in the worker and can write there too. So a line of at most 64 KiB is read; one that begins with
 * a word above and goes on as no worker would (a number that is none, infinite, negative or beyond any such quantity, a count that
 * goes back, {@code planted-caught} when nothing was planted, more lines than a worker ever says) ends the load, and nothing after
 * it is believed. VALUE may be {@code NaN}: it was not measured. Lines that begin with other words are a driver's notes, and ignored.
 *
 * <p>A process that lists devices, from platform FIRST on, ends with its input as well, and says:
 *
 * <ul>
 *   <li>{@code platform NUMBER NAME}: it asks this one from now on; first without, then with its name.
 *   <li>{@code device FACTS}: see {@link dev.loadwitness.agent.load.worker.ComputeDevice}.
 *   <li>{@code refused TEXT}: a driver or device was left out, and why.
 *   <li>{@code none TEXT}: there is nothing to list, and why.
 *   <li>{@code end}: that was all.
 * </ul>
 */
package dev.loadwitness.agent.load;
