// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import java.time.Duration;

/** Hears about trouble with the disk, on the writing thread. Must return soon; may append to the log. */
public interface WriterListener {
    /** Hears nothing. */
    WriterListener NONE = new WriterListener() {};

    /** The disk is full: the reserve was released, or there was no room for one. */
    default void storageLow(String detail) {}

    /**
     * Nothing can be written: the disk is full, gone, or read-only. The writer goes on in memory and tries again until
     * it is closed; told once each time.
     */
    default void storageLost(String detail) {}

    /** Writing goes on, with everything that waited. */
    default void storageBack(Duration lost) {}

    /** A write or force stood still for so long; told when it ended. */
    default void stalled(Duration length) {}

    /** The log goes on in a further file, because what the disk holds of the last one can no longer be known. */
    default void partBegun(int part, String why) {}
}
