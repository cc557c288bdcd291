// SPDX-License-Identifier: Apache-2.0
/** One pass over a log of any size, giving tallies that grow with channels and stages, never with hours. */
package dev.loadwitness.reporter.scan;
