// SPDX-License-Identifier: Apache-2.0
/** A log read from its first line to its end, whatever has become of it. */
package dev.loadwitness.runlog.file.read;
