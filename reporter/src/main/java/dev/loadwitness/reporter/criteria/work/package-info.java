// SPDX-License-Identifier: Apache-2.0
/** Criteria of the load: how long, how fast, how often switched, and whether its results were right. */
package dev.loadwitness.reporter.criteria.work;
