// SPDX-License-Identifier: Apache-2.0
/** Which channels are drawn together, and how such a chart is named: decided once for report and review page. */
package dev.loadwitness.reporter.chart;
