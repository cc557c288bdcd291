// SPDX-License-Identifier: Apache-2.0
/** The run as printed charts. The only user of JFreeChart. */
package dev.loadwitness.reporter.pdf.chart;
