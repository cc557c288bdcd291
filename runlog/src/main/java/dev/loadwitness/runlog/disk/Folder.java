// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static java.nio.file.LinkOption.NOFOLLOW_LINKS;
import static java.nio.file.StandardOpenOption.APPEND;
import static java.nio.file.StandardOpenOption.CREATE_NEW;
import static java.nio.file.StandardOpenOption.READ;
import static java.nio.file.StandardOpenOption.WRITE;
import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import java.io.IOException;
import java.io.InputStream;
import java.nio.channels.Channels;
import java.nio.channels.FileChannel;
import java.nio.file.DirectoryIteratorException;
import java.nio.file.DirectoryStream;
import java.nio.file.FileAlreadyExistsException;
import java.nio.file.Files;
import java.nio.file.NoSuchFileException;
import java.nio.file.OpenOption;
import java.nio.file.Path;
import java.nio.file.attribute.FileAttribute;
import java.nio.file.attribute.PosixFilePermissions;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Deque;
import java.util.List;
import java.util.Optional;
import java.util.Set;

/**
 * A folder in which files are kept and gone on with: logs, their locks, the journal of attempts. Nothing is opened before
 * it is asked for, so that a stick may be pulled and come back.
 *
 * <p>Root works only where nobody else can change what a name means (the reasons are in {@link Way}); that is looked at
 * anew each time, for another disk may be mounted there by now. Any user opens for writing only regular files, of his own
 * and with one name only, and never through a link of that name.
 */
public final class Folder {
    /** Never for others to write, whatever the umask says. */
    private static final FileAttribute<?> FILE_MODE =
            PosixFilePermissions.asFileAttribute(PosixFilePermissions.fromString("rw-r--r--"));

    private static final FileAttribute<?> FOLDER_MODE =
            PosixFilePermissions.asFileAttribute(PosixFilePermissions.fromString("rwxr-xr-x"));

    private final Path folder;

    private Folder(Path folder) {
        this.folder = folder;
    }

    public static Folder at(Path folder) {
        return new Folder(folder);
    }

    /** The folder that a file is in. */
    public static Folder of(Path file) {
        return new Folder(requireNonNull(file.toAbsolutePath().getParent(), "folder"));
    }

    /**
     * Makes the folder and those above it that are not there, for nobody else to write to.
     *
     * @return what was made, the innermost first
     * @throws FileAlreadyExistsException if one of them is a file
     */
    public Deque<Path> make() throws IOException {
        Deque<Path> missing = new ArrayDeque<>();
        Path there = folder.toAbsolutePath().normalize();
        while (there.getParent() != null && !Files.exists(there)) {
            missing.addLast(there);
            there = there.getParent();
        }
        if (!Files.isDirectory(there)) {
            throw new FileAlreadyExistsException(there.toString());
        }
        Deque<Path> made = new ArrayDeque<>();
        try {
            while (!missing.isEmpty()) {
                Path outermost = missing.removeLast();
                Folder.of(outermost).makeInner(outermost.getFileName().toString());
                made.addFirst(outermost);
            }
            check();
            return made;
        } catch (IOException e) {
            made.forEach(Folder::removeEmpty);
            throw e;
        }
    }

    private void makeInner(String name) throws IOException {
        Files.createDirectory(place().resolve(name), FOLDER_MODE);
    }

    /**
     * Makes a new folder in this one.
     *
     * @throws FileAlreadyExistsException if there is something of that name
     */
    public Path makeNew(String name) throws IOException {
        makeInner(name);
        return folder.resolve(name);
    }

    /** Takes the folder away if it is there and there is nothing in it. */
    public static void removeEmpty(Path folder) {
        try {
            Files.deleteIfExists(Folder.of(folder).place().resolve(folder.getFileName()));
        } catch (IOException e) {
            // It holds something, or is on a disk that is gone.
            return;
        }
    }

    /** Says now why nothing can be written here, before work is done for it. */
    public void check() throws IOException {
        Path place = place();
        if (!Files.isDirectory(place)) {
            throw new DiskException(Kind.MISSING, folder + ": no such folder; check the path");
        }
    }

    /** The folder's path, for root its own and no other. */
    private Path place() throws IOException {
        return Self.isRoot() ? Way.trusted(folder) : folder;
    }

    /**
     * Makes a new, empty file for appending, whose name is on the disk when this returns, where the system can promise
     * that.
     *
     * @throws FileAlreadyExistsException if there is something of that name
     */
    public FileChannel create(String name) throws IOException {
        FileChannel channel = FileChannel.open(place().resolve(name), Set.of(CREATE_NEW, WRITE, APPEND), FILE_MODE);
        force();
        return channel;
    }

    /**
     * Opens a file of ours for appending.
     *
     * @throws NoSuchFileException if there is none
     */
    public FileChannel append(String name) throws IOException {
        return own(name, Set.of(WRITE, APPEND, NOFOLLOW_LINKS));
    }

    /**
     * Opens a file of ours for reading and writing.
     *
     * @throws NoSuchFileException if there is none
     */
    public FileChannel update(String name) throws IOException {
        return own(name, Set.of(READ, WRITE, NOFOLLOW_LINKS));
    }

    /** The same; makes it if there is none. */
    public FileChannel createOrUpdate(String name) throws IOException {
        try {
            return update(name);
        } catch (NoSuchFileException e) {
            try {
                FileChannel channel =
                        FileChannel.open(place().resolve(name), Set.of(CREATE_NEW, READ, WRITE), FILE_MODE);
                force();
                return channel;
            } catch (FileAlreadyExistsException raced) {
                return update(name);
            }
        }
    }

    /**
     * Reads a file of ours that is to be gone on with.
     *
     * @throws NoSuchFileException if there is none
     */
    public InputStream readOwn(String name) throws IOException {
        return Channels.newInputStream(own(name, Set.of(READ, NOFOLLOW_LINKS)));
    }

    private FileChannel own(String name, Set<? extends OpenOption> options) throws IOException {
        Path file = place().resolve(name);
        Stat before = Stat.of(file);
        requireOwn(file, before);
        FileChannel channel = FileChannel.open(file, options);
        // Java does not tell which file it opened. For root nobody else can have changed it; for others this narrows
        // it.
        if (!Stat.find(file).map(Stat::key).equals(Optional.of(before.key()))) {
            channel.close();
            throw new DiskException(Kind.FOREIGN, file + " was replaced while it was opened; try again");
        }
        return channel;
    }

    /** Refuses what this program must not go on with, if it is there. */
    public void checkOwn(String name) throws IOException {
        Path file = place().resolve(name);
        Optional<Stat> stat = Stat.find(file);
        if (stat.isPresent()) {
            requireOwn(file, stat.get());
        }
    }

    private static void requireOwn(Path file, Stat stat) throws DiskException {
        if (stat.isLink()) {
            throw new DiskException(
                    Kind.LINK, file + " is a link, and nothing is written through one; put the file itself there");
        }
        if (!stat.isFile()) {
            throw new DiskException(Kind.WRONG_KIND, file + " is no file; move it away");
        }
        if (stat.links() > 1) {
            throw new DiskException(
                    Kind.FOREIGN,
                    file + " has another name somewhere (a hard link), and what is written here would appear there;"
                            + " put a copy in its place");
        }
        Path folder = requireNonNull(file.getParent(), "folder");
        if (Self.user().isPresent() && stat.owner() != Self.user().getAsLong() && !isOwnerless(folder)) {
            throw new DiskException(
                    Kind.FOREIGN,
                    file + " belongs to user " + stat.owner() + ", and this is user "
                            + Self.user().getAsLong() + "; it is gone on with only by the user who began it");
        }
    }

    /** Where all files seem to belong to whoever mounted the disk; for root only where there are no links either. */
    private static boolean isOwnerless(Path folder) {
        try {
            return Mount.of(folder.toRealPath(), Mount.all())
                    .filter(m -> Self.isRoot() ? m.hasNoLinks() : m.hasNoOwners())
                    .isPresent();
        } catch (IOException e) {
            return false;
        }
    }

    /** Removes the file, or a link of that name; fine if there is none. */
    public void delete(String name) throws IOException {
        Files.deleteIfExists(place().resolve(name));
    }

    /** The same where it does not matter: what cannot be removed stays. */
    public void deleteQuietly(String name) {
        try {
            delete(name);
        } catch (IOException e) {
            // It is on a disk that is gone.
            return;
        }
    }

    /** Whether the folder itself is this user's, or on a disk where that says nothing. */
    public boolean isOwn() throws IOException {
        Path place = place();
        return Self.user().isEmpty() || Stat.of(place).owner() == Self.user().getAsLong() || isOwnerless(place);
    }

    /** Names of all that is in it, in order. */
    public List<String> names() throws IOException {
        List<String> names = new ArrayList<>();
        try (DirectoryStream<Path> entries = Files.newDirectoryStream(folder)) {
            for (Path entry : entries) {
                names.add(entry.getFileName().toString());
            }
        } catch (DirectoryIteratorException e) {
            // A folder of a disk that was pulled still opens, and fails while it is read.
            throw e.getCause();
        }
        names.sort(null);
        return names;
    }

    /** A new file's name survives a power cut only when its folder is forced too. */
    public void force() {
        try (FileChannel channel = FileChannel.open(folder, READ)) {
            channel.force(true);
        } catch (IOException e) {
            // Some file systems cannot force folders: then the system's own order of writes is all there is, and the
            // data itself is still forced.
            return;
        }
    }
}
