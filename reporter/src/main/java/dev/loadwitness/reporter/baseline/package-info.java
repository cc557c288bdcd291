// SPDX-License-Identifier: Apache-2.0
/** What sound machines of one model show, kept in one file, and whether another one is as they are. */
package dev.loadwitness.reporter.baseline;
