// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file;

import static java.nio.file.StandardOpenOption.APPEND;
import static java.nio.file.StandardOpenOption.CREATE_NEW;
import static java.nio.file.StandardOpenOption.READ;
import static java.nio.file.StandardOpenOption.WRITE;

import java.io.IOException;
import java.io.InputStream;
import java.nio.ByteBuffer;
import java.nio.channels.FileChannel;
import java.nio.channels.FileLock;
import java.nio.channels.OverlappingFileLockException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.stream.Stream;

/** The real disk. */
final class FolderStore implements LogStore {
    private final Path folder;

    FolderStore(Path folder) {
        this.folder = folder;
    }

    @Override
    public LogFile create(String name) throws IOException {
        FileChannel channel = FileChannel.open(folder.resolve(name), CREATE_NEW, WRITE, APPEND);
        forceFolder();
        return new ChannelFile(channel);
    }

    @Override
    public LogFile append(String name) throws IOException {
        return new ChannelFile(FileChannel.open(folder.resolve(name), WRITE, APPEND));
    }

    @Override
    public InputStream read(String name) throws IOException {
        return Files.newInputStream(folder.resolve(name));
    }

    @Override
    public void delete(String name) throws IOException {
        Files.deleteIfExists(folder.resolve(name));
    }

    @Override
    public List<String> list() throws IOException {
        try (Stream<Path> files = Files.list(folder)) {
            return files.map(file -> file.getFileName().toString()).sorted().toList();
        }
    }

    @Override
    public long usableBytes() throws IOException {
        return Files.getFileStore(folder).getUsableSpace();
    }

    @Override
    public String describe(String name) {
        return folder.resolve(name).toString();
    }

    /** A new file's name survives a power cut only when its folder is forced too. */
    private void forceFolder() {
        try (FileChannel channel = FileChannel.open(folder, READ)) {
            channel.force(true);
        } catch (IOException e) {
            // Windows cannot open folders, and some file systems cannot force them: then the system's own order of
            // writes is all there is, and the data itself is still forced.
            return;
        }
    }

    private record ChannelFile(FileChannel channel) implements LogFile {
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
        public boolean tryLock() throws IOException {
            try {
                // One byte that no log reaches: on Windows a lock on the bytes themselves would keep readers out.
                FileLock lock = channel.tryLock(Long.MAX_VALUE - 1, 1, false);
                return lock != null;
            } catch (OverlappingFileLockException e) {
                return false;
            }
        }

        @Override
        public void close() throws IOException {
            channel.close();
        }
    }
}
