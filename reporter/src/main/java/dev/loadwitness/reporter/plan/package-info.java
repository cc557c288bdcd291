// SPDX-License-Identifier: Apache-2.0
/** How long to run, and a procedure that runs that long. Knows procedures and mathematics, no logs. */
package dev.loadwitness.reporter.plan;
