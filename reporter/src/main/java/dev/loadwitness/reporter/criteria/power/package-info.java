// SPDX-License-Identifier: Apache-2.0
/** Criteria of power: held, steady, plausible, its limit, its rails, the battery. */
package dev.loadwitness.reporter.criteria.power;
