// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.store;

import java.io.Closeable;
import java.io.IOException;
import java.nio.ByteBuffer;

/** One file, open for appending. Used by one thread. */
public interface LogFile extends Closeable {
    /**
     * Appends bytes from the buffer's position on and moves it by as many as were taken.
     *
     * @return how many: fewer than asked, or 0, when the disk is nearly full
     * @throws IOException if none were taken
     */
    int write(ByteBuffer bytes) throws IOException;

    /** Returns when everything written before is on the disk. After an exception nothing is known about it. */
    void force() throws IOException;

    long size() throws IOException;

    /**
     * False if the path that it was opened by leads to no file now, or to another: the disk was pulled, and another or
     * the same one came back. True where the system cannot tell.
     */
    boolean isCurrent();
}
