// SPDX-License-Identifier: Apache-2.0
/** The verdict as text for people and as JSON for programs. */
package dev.loadwitness.reporter.text;
