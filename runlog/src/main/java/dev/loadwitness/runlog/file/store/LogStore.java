// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.store;

import java.io.Closeable;
import java.io.IOException;
import java.io.InputStream;
import java.nio.file.FileAlreadyExistsException;
import java.nio.file.Path;
import java.util.List;
import java.util.Optional;

/** The folder that a log lies in: the one door to the disk, so that tests can have a disk that fails. */
public interface LogStore {
    /** A store on a folder of this machine, which must exist. */
    static LogStore in(Path folder) {
        return new FolderStore(folder);
    }

    /**
     * Makes a new, empty file whose name is on the disk when this returns, where the system can promise that.
     *
     * @throws FileAlreadyExistsException if there is one of that name
     */
    LogFile create(String name) throws IOException;

    /** Opens an existing file for appending. */
    LogFile append(String name) throws IOException;

    InputStream read(String name) throws IOException;

    void delete(String name) throws IOException;

    /** Names of all files. */
    List<String> list() throws IOException;

    /** Room left for this user, in bytes. */
    long usableBytes() throws IOException;

    /**
     * Takes a lock that no other process and no other writer of this one gets before it is closed or the process dies.
     * The file of that name is made if there is none, and must be used for nothing else.
     *
     * @return empty if somebody else has it
     */
    Optional<Closeable> lock(String name) throws IOException;

    /** For messages: where the file is. */
    String describe(String name);
}
