// SPDX-License-Identifier: Apache-2.0
/**
 * Files that a technician writes: read into a small tree that knows lines and columns, and taken apart so that every
 * fault is found in one go and named with what to do about it.
 */
package dev.loadwitness.runlog.yaml;
