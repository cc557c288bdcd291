// SPDX-License-Identifier: Apache-2.0
/** Mathematics on numbers; has never heard of sensors or logs. Every formula's source is in {@code docs/computation.md}. */
package dev.loadwitness.reporter.statistics;
