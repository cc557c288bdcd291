// SPDX-License-Identifier: Apache-2.0
/**
 * An invented gaming laptop under a burn-in, so that judging can be tried on machines with faults that nobody has on the
 * bench. Seeded: the same scenario gives the same records on every machine. Its numbers are plausible, measured on
 * nothing: whatever is judged from it says SIMULATED.
 */
package dev.loadwitness.reporter.simulation;
