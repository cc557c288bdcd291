// SPDX-License-Identifier: Apache-2.0
/** Criteria of the record itself: readings, sensors and hand checks that a verdict needs. */
package dev.loadwitness.reporter.criteria.evidence;
