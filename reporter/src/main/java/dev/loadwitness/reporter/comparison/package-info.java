// SPDX-License-Identifier: Apache-2.0
/** Two runs, or two stages of one, set side by side: what differs, and by more than both measurements leave open. */
package dev.loadwitness.reporter.comparison;
