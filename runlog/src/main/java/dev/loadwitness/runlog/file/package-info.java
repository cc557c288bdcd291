// SPDX-License-Identifier: Apache-2.0
/** How the words of a run lie on disk: writer, reader, chain, damage. The format is {@code docs/run-log.md}. */
package dev.loadwitness.runlog.file;
