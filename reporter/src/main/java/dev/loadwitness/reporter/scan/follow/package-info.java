// SPDX-License-Identifier: Apache-2.0
/** What followers are handed: a sample at its place, an event, the memory they may take. */
package dev.loadwitness.reporter.scan.follow;
