// SPDX-License-Identifier: Apache-2.0
/** Thinned readings for drawing. */
package dev.loadwitness.reporter.scan.series;
