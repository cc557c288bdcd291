// SPDX-License-Identifier: Apache-2.0
/** The files of a log, where they lie, and one kind of failure for all of them. */
package dev.loadwitness.runlog.file.store;
