// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file;

import java.time.Duration;

/** Hears about trouble with the disk, on the writing thread. Must return soon; may append to the log. */
public interface WriterListener {
    /** Hears nothing. */
    WriterListener NONE = new WriterListener() {};

    /** The disk takes no more. The reserve was released, or is already gone: the run should end soon. */
    default void storageLow(String detail) {}

    /** A write or force stood still for so long; told when it ended. */
    default void stalled(Duration length) {}

    /** The log goes on in a further file, because what the disk holds of the last one can no longer be known. */
    default void partBegun(int part, String why) {}
}
