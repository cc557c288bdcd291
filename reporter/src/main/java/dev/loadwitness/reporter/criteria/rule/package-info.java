// SPDX-License-Identifier: Apache-2.0
/** What a criterion is, the case it is given, and what several of them ask of a case. */
package dev.loadwitness.reporter.criteria.rule;
