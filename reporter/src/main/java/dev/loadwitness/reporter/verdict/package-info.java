// SPDX-License-Identifier: Apache-2.0
/** All findings, the decision rule, and the words for them, said once. */
package dev.loadwitness.reporter.verdict;
