// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.file.store.LogFile;
import dev.loadwitness.runlog.file.store.LogStore;
import java.io.Closeable;
import java.io.IOException;
import java.io.InputStream;
import java.nio.file.NoSuchFileException;
import java.util.List;
import java.util.Optional;

/** A path that disks come to and go from: what is opened stays with the disk that was there at the time. */
final class MountPoint implements LogStore {
    private Optional<LogStore> there;
    private Optional<LogStore> next = Optional.empty();

    MountPoint(LogStore there) {
        this.there = Optional.of(there);
    }

    synchronized void mount(LogStore store) {
        there = Optional.of(store);
    }

    /** The folder itself is gone: the log lay in a folder of the disk. */
    synchronized void unmount() {
        there = Optional.empty();
    }

    /** It is gone for whoever looks first, and there again for the next. */
    synchronized void missOnce(LogStore store) {
        there = Optional.empty();
        next = Optional.of(store);
    }

    private synchronized LogStore there() throws IOException {
        Optional<LogStore> now = there;
        if (next.isPresent()) {
            there = next;
            next = Optional.empty();
        }
        return now.orElseThrow(() -> new NoSuchFileException("the folder"));
    }

    @Override
    public LogFile create(String name) throws IOException {
        return there().create(name);
    }

    @Override
    public LogFile append(String name) throws IOException {
        return there().append(name);
    }

    @Override
    public InputStream read(String name) throws IOException {
        return there().read(name);
    }

    @Override
    public void delete(String name) throws IOException {
        there().delete(name);
    }

    @Override
    public List<String> list() throws IOException {
        return there().list();
    }

    @Override
    public long usableBytes() throws IOException {
        return there().usableBytes();
    }

    @Override
    public Optional<Closeable> lock(String name) throws IOException {
        return there().lock(name);
    }

    @Override
    public String describe(String name) {
        return name;
    }
}
