// SPDX-License-Identifier: Apache-2.0
/** Temperatures over the run, and how a stage warmed up. */
package dev.loadwitness.reporter.scan.heat;
