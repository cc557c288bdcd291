// SPDX-License-Identifier: Apache-2.0
/** Criteria of what broke: restarts and what they tell of their cause, errors of the hardware, parts that fell off their bus. */
package dev.loadwitness.reporter.criteria.breakdown;
