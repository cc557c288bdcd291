// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.store;

import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.disk.Input;
import dev.loadwitness.runlog.disk.Input.Named;
import java.io.Closeable;
import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.nio.file.attribute.BasicFileAttributes;
import java.util.List;
import java.util.Optional;
import java.util.Set;
import java.util.concurrent.ConcurrentHashMap;

/** The real disk. */
public final class FolderStore implements LogStore {
    private static final Set<Path> LOCKED = ConcurrentHashMap.newKeySet();

    private final Path folder;
    private final String named;

    public FolderStore(Path folder) {
        this(folder, "");
    }

    /**
     * For reading.
     *
     * @param named the file that a person named: it may be a link, and no other
     */
    public FolderStore(Path folder, String named) {
        this.folder = folder;
        this.named = named;
    }

    @Override
    public LogFile create(String name) throws IOException {
        return ChannelFile.of(Folder.at(folder).create(name), folder.resolve(name));
    }

    @Override
    public LogFile append(String name) throws IOException {
        return ChannelFile.of(Folder.at(folder).append(name), folder.resolve(name));
    }

    @Override
    public InputStream read(String name) throws IOException {
        // Of any size: a log is read as it comes.
        return Input.open(folder.resolve(name), name.equals(named) ? Named.BY_PERSON : Named.BY_PLACE, Long.MAX_VALUE);
    }

    @Override
    public void delete(String name) throws IOException {
        Folder.at(folder).delete(name);
    }

    @Override
    public List<String> list() throws IOException {
        return Folder.at(folder).names();
    }

    @Override
    public long usableBytes() throws IOException {
        // Not by the folder's mount, which Java cannot find in a changed root.
        return folder.toFile().getUsableSpace();
    }

    @Override
    public Optional<Closeable> lock(String name) throws IOException {
        Path file = folder.toRealPath().resolve(name);
        // Asked first: to open and close a file that this process has locked already would undo that lock (POSIX).
        if (!LOCKED.add(file)) {
            return Optional.empty();
        }
        FileChannel channel = null;
        try {
            channel = Folder.at(folder).createOrUpdate(name);
            if (channel.tryLock() != null) {
                FileChannel held = channel;
                channel = null;
                return Optional.of(() -> {
                    try {
                        held.close();
                    } finally {
                        // On a disk that is gone it fails, and the lock is to be taken again when that is back.
                        LOCKED.remove(file);
                    }
                });
            }
            LOCKED.remove(file);
            return Optional.empty();
        } catch (IOException e) {
            LOCKED.remove(file);
            throw e;
        } finally {
            if (channel != null) {
                channel.close();
            }
        }
    }

    @Override
    public String describe(String name) {
        return folder.resolve(name).toString();
    }

    /**
     * @param key device and number of the file; no other file gets the same while this one is open. Empty on Windows
     */
    private record ChannelFile(FileChannel channel, Path path, Optional<Object> key) implements LogFile {
        static ChannelFile of(FileChannel channel, Path path) throws IOException {
            try {
                return new ChannelFile(channel, path, keyOf(path));
            } catch (IOException e) {
                channel.close();
                throw e;
            }
        }

        private static Optional<Object> keyOf(Path path) throws IOException {
            return Optional.ofNullable(Files.readAttributes(path, BasicFileAttributes.class, LinkOption.NOFOLLOW_LINKS)
                    .fileKey());
        }

        @Override
        public boolean isCurrent() {
            try {
                return keyOf(path).equals(key);
            } catch (IOException e) {
                return false;
            }
        }

        @Override
        public int write(ByteBuffer bytes) throws IOException {
            return channel.write(bytes);
        }

        @Override
        public void force() throws IOException {
            channel.force(false);
        }

        @Override
        public long size() throws IOException {
            return channel.size();
        }

        @Override
        public void close() throws IOException {
            channel.close();
        }
    }
}
