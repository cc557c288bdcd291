// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static java.nio.file.LinkOption.NOFOLLOW_LINKS;
import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFileAttributes;
import java.nio.file.attribute.UserPrincipal;
import java.time.Instant;
import java.util.List;
import java.util.Optional;

/**
 * A file or folder as it was looked at, so that it can be removed later, and nothing that took its name meanwhile: every
 * folder on the way is opened from within the one before, and the thing itself must still be the same one of the same
 * owner. Links are never followed; one inside a folder that is removed goes itself. The name it had may be given to
 * something else in the very moment of removing; that is then of somebody who may change names there, and only its name
 * goes.
 */
public final class FoundEntry {
    private final Path path;
    private final PosixFileAttributes seen;
    private final Stat stat;

    private FoundEntry(Path path, PosixFileAttributes seen, Stat stat) {
        this.path = path;
        this.seen = seen;
        this.stat = stat;
    }

    /** Empty if there is nothing, a link, or what is neither a file nor a folder. */
    public static Optional<FoundEntry> look(Path path) throws IOException {
        Path own = path.toAbsolutePath().normalize();
        try {
            Stat stat = Stat.of(own);
            PosixFileAttributes seen = Files.readAttributes(own, PosixFileAttributes.class, NOFOLLOW_LINKS);
            boolean same = stat.key().equals(seen.fileKey());
            return same && (seen.isRegularFile() || seen.isDirectory())
                    ? Optional.of(new FoundEntry(own, seen, stat))
                    : Optional.empty();
        } catch (NoSuchFileException e) {
            return Optional.empty();
        }
    }

    public Path path() {
        return path;
    }

    public boolean isFolder() {
        return seen.isDirectory();
    }

    /** Number of the user who owns it. */
    public long owner() {
        return stat.owner();
    }

    /** When it was last changed. */
    public Instant changed() {
        return seen.lastModifiedTime().toInstant();
    }

    /** Bytes of the file, or of all files in the folder; what cannot be looked at counts nothing. */
    public long bytes() {
        if (seen.isRegularFile()) {
            return seen.size();
        }
        try (OpenFolder in = above();
                OpenFolder folder = in.folder(path.getFileName().toString())) {
            return bytes(folder);
        } catch (IOException e) {
            return 0;
        }
    }

    private static long bytes(OpenFolder folder) {
        long sum = 0;
        try {
            for (String name : folder.names()) {
                Optional<PosixFileAttributes> entry = folder.look(name);
                if (entry.isPresent() && entry.get().isRegularFile()) {
                    sum += entry.get().size();
                } else if (entry.isPresent() && entry.get().isDirectory()) {
                    try (OpenFolder inner = folder.folder(name)) {
                        sum += bytes(inner);
                    }
                }
            }
        } catch (IOException e) {
            return sum;
        }
        return sum;
    }

    /** Names of all that is in the folder. */
    public List<String> names() throws IOException {
        try (OpenFolder in = above();
                OpenFolder folder = in.folder(path.getFileName().toString())) {
            requireSame(folder.own());
            return folder.names();
        }
    }

    /**
     * Removes the file, or the folder with all that is in it.
     *
     * @throws DiskException if something else is there by now, or something in it is another user's
     * @throws IOException if something cannot be removed; what was removed before is gone
     */
    public void remove() throws IOException {
        String name = path.getFileName().toString();
        try (OpenFolder in = above()) {
            PosixFileAttributes now =
                    in.look(name).orElseThrow(() -> new DiskException(Kind.MISSING, path + " is not there any more"));
            requireSame(now);
            if (seen.isRegularFile()) {
                in.deleteFile(name);
                return;
            }
            try (OpenFolder folder = in.folder(name)) {
                requireSame(folder.own());
                empty(folder, seen.owner());
            }
            in.deleteFolder(name);
        }
    }

    private OpenFolder above() throws IOException {
        Path folder = requireNonNull(path.getParent(), "nobody removes the root");
        try {
            return Self.isRoot() ? OpenFolder.walk(folder) : OpenFolder.open(folder);
        } catch (IOException e) {
            throw new DiskException(
                    Kind.FOREIGN, path + " stays: its folder is not there any more, or a link by now", e);
        }
    }

    private void requireSame(PosixFileAttributes now) throws DiskException {
        if (!now.fileKey().equals(seen.fileKey())
                || !now.owner().equals(seen.owner())
                || now.isDirectory() != seen.isDirectory()) {
            throw new DiskException(Kind.FOREIGN, path + " stays: something else is there by now; look again");
        }
    }

    private static void empty(OpenFolder folder, UserPrincipal owner) throws IOException {
        for (String name : folder.names()) {
            Optional<PosixFileAttributes> entry = folder.look(name);
            if (entry.isEmpty()) {
                continue;
            }
            requireOwner(folder, name, entry.get(), owner);
            if (!entry.get().isDirectory()) {
                folder.deleteFile(name);
                continue;
            }
            try (OpenFolder inner = folder.folder(name)) {
                requireOwner(folder, name, inner.own(), owner);
                empty(inner, owner);
            }
            folder.deleteFolder(name);
        }
    }

    private static void requireOwner(OpenFolder folder, String name, PosixFileAttributes now, UserPrincipal owner)
            throws DiskException {
        if (!now.owner().equals(owner)) {
            throw new DiskException(
                    Kind.FOREIGN,
                    folder.path().resolve(name) + " stays: it belongs to "
                            + now.owner().getName());
        }
    }
}
