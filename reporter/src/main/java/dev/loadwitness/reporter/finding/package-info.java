// SPDX-License-Identifier: Apache-2.0
/** What one criterion found, as values; the texts of its numbers; how certain, where in the log. */
package dev.loadwitness.reporter.finding;
