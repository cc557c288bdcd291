// SPDX-License-Identifier: Apache-2.0
/** The verdict and the whole record of a run as one HTML file, for finding out why a run failed. */
package dev.loadwitness.reporter.page;
