// SPDX-License-Identifier: Apache-2.0
/** Limits and tallies in, findings as values out: one small class a criterion. */
package dev.loadwitness.reporter.criteria;
