// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static java.nio.file.LinkOption.NOFOLLOW_LINKS;
import static java.nio.file.StandardOpenOption.CREATE_NEW;
import static java.nio.file.StandardOpenOption.READ;
import static java.nio.file.StandardOpenOption.WRITE;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import java.io.Closeable;
import java.io.IOException;
import java.nio.channels.FileChannel;
import java.nio.file.DirectoryIteratorException;
import java.nio.file.DirectoryStream;
import java.nio.file.FileSystemException;
import java.nio.file.Files;
import java.nio.file.NoSuchFileException;
import java.nio.file.OpenOption;
import java.nio.file.Path;
import java.nio.file.SecureDirectoryStream;
import java.nio.file.attribute.BasicFileAttributes;
import java.nio.file.attribute.FileAttribute;
import java.nio.file.attribute.PosixFileAttributeView;
import java.nio.file.attribute.PosixFileAttributes;
import java.nio.file.attribute.PosixFilePermission;
import java.nio.file.attribute.PosixFilePermissions;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.Set;

/** A folder held open: names are looked up in this very one, whatever its path leads to by now. No link is followed. */
final class OpenFolder implements Closeable {
    private static final String NONE = "---------";

    private final Path path;
    private final SecureDirectoryStream<Path> stream;

    private OpenFolder(Path path, SecureDirectoryStream<Path> stream) {
        this.path = path;
        this.stream = stream;
    }

    /**
     * Opens every folder on the way from within the one before, so that a link put on it meanwhile is an error.
     *
     * @param folder absolute and free of links
     */
    static OpenFolder walk(Path folder) throws IOException {
        OpenFolder at = open(folder.getRoot());
        for (Path name : folder) {
            try (OpenFolder above = at) {
                at = above.folder(name.toString());
            }
        }
        return at;
    }

    /** Opens what the path means now. */
    @SuppressWarnings("StreamResourceLeak") // close() closes it
    static OpenFolder open(Path folder) throws IOException {
        DirectoryStream<Path> stream = Files.newDirectoryStream(folder);
        if (stream instanceof SecureDirectoryStream<Path> secure) {
            return new OpenFolder(folder, secure);
        }
        stream.close();
        throw new IOException("this system cannot hold folders open; use Linux");
    }

    OpenFolder folder(String name) throws IOException {
        return new OpenFolder(path.resolve(name), stream.newDirectoryStream(Path.of(name), NOFOLLOW_LINKS));
    }

    Path path() {
        return path;
    }

    /** Of all that is in it; to be asked once. */
    List<String> names() throws IOException {
        List<String> names = new ArrayList<>();
        try {
            for (Path entry : stream) {
                names.add(entry.getFileName().toString());
            }
        } catch (DirectoryIteratorException e) {
            throw e.getCause();
        }
        return names;
    }

    /** Of the folder itself, by its handle. */
    PosixFileAttributes own() throws IOException {
        return stream.getFileAttributeView(PosixFileAttributeView.class).readAttributes();
    }

    /** Of the name itself, never of what it leads to; empty if there is nothing of that name. */
    Optional<PosixFileAttributes> look(String name) throws IOException {
        try {
            return Optional.of(stream.getFileAttributeView(Path.of(name), PosixFileAttributeView.class, NOFOLLOW_LINKS)
                    .readAttributes());
        } catch (NoSuchFileException e) {
            return Optional.empty();
        }
    }

    /** Makes a new file for writing; its mode never has more than {@code mode}, whatever the umask is. */
    FileChannel create(String name, String mode) throws IOException {
        return channel(name, Set.of(CREATE_NEW, WRITE, NOFOLLOW_LINKS), mode);
    }

    /**
     * A regular file for reading.
     *
     * @param guarded whether others can change names here: then it is opened for writing too if that can be, which on
     *     Linux does not wait at a pipe that was put there in this very moment (fifo(7))
     */
    FileChannel read(String name, boolean guarded) throws IOException {
        Path file = path.resolve(name);
        PosixFileAttributes before =
                look(name).orElseThrow(() -> new DiskException(Kind.MISSING, file + ": no such file; check the name"));
        requireFile(file, before);
        return checked(guarded ? openAtOnce(name) : open(name), file, before, look(name));
    }

    private FileChannel openAtOnce(String name) throws IOException {
        try {
            FileChannel channel = channel(name, Set.of(READ, WRITE, NOFOLLOW_LINKS), NONE);
            requirePlaces(channel, name);
            return channel;
        } catch (DiskException e) {
            throw e;
        } catch (FileSystemException e) {
            // Mounted read-only, or a program that runs: then nobody changes it just now either.
            return open(name);
        }
    }

    /** A pipe has no places to read from (lseek(2)), and was put there and taken away while the file was looked at. */
    private void requirePlaces(FileChannel channel, String name) throws IOException {
        try {
            channel.position();
        } catch (IOException e) {
            channel.close();
            throw new DiskException(
                    Kind.WRONG_KIND, path.resolve(name) + " is a pipe by now, not a file; give a file", e);
        }
    }

    private FileChannel open(String name) throws IOException {
        return channel(name, Set.of(READ, NOFOLLOW_LINKS), NONE);
    }

    /** Java does not tell which file it opened; so the name must have stood for one file before and after. */
    static FileChannel checked(
            FileChannel channel, Path file, BasicFileAttributes before, Optional<? extends BasicFileAttributes> after)
            throws IOException {
        if (after.isEmpty() || !before.fileKey().equals(after.get().fileKey())) {
            channel.close();
            throw new DiskException(Kind.FOREIGN, file + " was replaced while it was opened; try again");
        }
        return channel;
    }

    static void requireFile(Path file, BasicFileAttributes attributes) throws DiskException {
        if (attributes.isSymbolicLink()) {
            throw new DiskException(
                    Kind.LINK, file + " is a link, and none is followed here; put the file itself there");
        }
        if (!attributes.isRegularFile()) {
            String what = attributes.isDirectory() ? "a folder" : "a device, a pipe or a socket";
            throw new DiskException(Kind.WRONG_KIND, file + " is " + what + ", not a file; give a file");
        }
    }

    private FileChannel channel(String name, Set<? extends OpenOption> options, String mode) throws IOException {
        Set<PosixFilePermission> permissions = PosixFilePermissions.fromString(mode);
        FileAttribute<Set<PosixFilePermission>> attribute = PosixFilePermissions.asFileAttribute(permissions);
        return (FileChannel) stream.newByteChannel(Path.of(name), options, attribute);
    }

    /** Gives a file another name in this folder, in one step; what had that name is gone, a link only as a link. */
    void rename(String from, String to) throws IOException {
        stream.move(Path.of(from), stream, Path.of(to));
    }

    void deleteFile(String name) throws IOException {
        stream.deleteFile(Path.of(name));
    }

    /** An empty one. */
    void deleteFolder(String name) throws IOException {
        stream.deleteDirectory(Path.of(name));
    }

    /** A new name survives a power cut only when its folder is forced too. */
    void force() {
        try (FileChannel channel = channel(".", Set.of(READ), NONE)) {
            channel.force(true);
        } catch (IOException e) {
            // Some file systems cannot force folders: then the system's own order of writes is all there is, and the
            // data itself is still forced.
            return;
        }
    }

    @Override
    public void close() throws IOException {
        stream.close();
    }
}
