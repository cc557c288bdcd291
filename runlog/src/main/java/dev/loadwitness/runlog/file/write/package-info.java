// SPDX-License-Identifier: Apache-2.0
/**
 * A log while it is written: what is appended is on the disk before it counts.
 *
 * <p>{@code RunLogWriter} is the door and owns the writing thread; {@code RecordQueue} lies between that thread and
 * all others, and owns the lock. All else belongs to one thread: to whoever begins until the first record is on the disk
 * ({@code Resumption} finds where that goes in an earlier log), then to the writing thread:
 *
 * <pre>
 * any thread ─► RunLogWriter ─► RecordQueue ◄─ take, acknowledge ─ Delivery     one batch, tried until it is on the disk
 *                                                                    └─► OpenLog
 *                                                                          ├─► DurableTail   the current file; how far it counts
 *                                                                          ├─► FurtherParts  the next file
 *                                                                          ├─► ReserveFile, LogLock
 *                                                                          └─► DiskWatch     stalls and trouble, told
 * </pre>
 *
 * Under all lies {@code CheckedStore}, so that a disk's failure is always an {@code IOException}, and over all that listens
 * {@code SteadyListener}: what else ends the writing thread is a defect.
 */
package dev.loadwitness.runlog.file.write;
