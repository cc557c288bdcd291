// SPDX-License-Identifier: Apache-2.0
/** Criteria of temperatures, cooling and fans. */
package dev.loadwitness.reporter.criteria.heat;
