// SPDX-License-Identifier: Apache-2.0
/** All criteria by their words, and the figures of a run that two runs are compared by. The rooms below judge one subject each. */
package dev.loadwitness.reporter.criteria;
