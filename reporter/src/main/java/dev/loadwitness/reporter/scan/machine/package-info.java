// SPDX-License-Identifier: Apache-2.0
/** What is followed through the whole run, whatever the stage: supply, fans, errors, sleep, what was asked. */
package dev.loadwitness.reporter.scan.machine;
