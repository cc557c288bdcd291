// SPDX-License-Identifier: Apache-2.0
/** What one stage did: windows of work and power, clocks, throttling, load steps, temperatures. */
package dev.loadwitness.reporter.scan.stage;
