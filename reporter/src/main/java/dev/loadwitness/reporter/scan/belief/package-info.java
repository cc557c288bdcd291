// SPDX-License-Identifier: Apache-2.0
/** What cannot be believed: off the scale, stuck, or still where there was work. */
package dev.loadwitness.reporter.scan.belief;
