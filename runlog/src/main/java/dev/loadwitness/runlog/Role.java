// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/** The part of the machine that a channel, a load or a stage is about. Criteria find channels by role and metric. */
public enum Role implements Word {
    CPU,
    MEMORY,
    GPU_DISCRETE,
    GPU_INTEGRATED,
    BATTERY,
    ADAPTER,
    FAN,
    BOARD,
    STORAGE,
    NETWORK,
    INPUT,
    /** The agent itself: lateness of its samples, age of what is not yet on disk. */
    WITNESS
}
