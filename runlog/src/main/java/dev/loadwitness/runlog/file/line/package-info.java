// SPDX-License-Identifier: Apache-2.0
/** A record as a line of text: encoded, decoded, chained; and what can be wrong with one. */
package dev.loadwitness.runlog.file.line;
