// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import dev.loadwitness.runlog.disk.DiskException.Kind;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.util.ArrayDeque;
import java.util.Deque;
import java.util.List;
import java.util.Optional;
import java.util.OptionalLong;

/**
 * The way to a folder, walked from {@code /} name by name and without the system's following of links.
 *
 * <p>Why looking by name is enough for root. Say that nobody else can change what the path of a folder means. If the next
 * name in it is root's, nobody else can rename, remove or replace it: the folder is not writable by others, or its sticky
 * bit keeps each owner's entries ({@code inode(7)}). So nobody else can change what the longer path means either; and
 * {@code /} is where it begins. What is then opened by that path is what was looked at, however long ago that is. Java
 * shows the sticky bit by path only, which is why this is not done by handle.
 */
final class Way {
    /** As Linux does (path_resolution(7)). */
    private static final int MOST_LINKS = 40;

    private static final String WHAT_TO_DO =
            "; name a folder of root's own (chown makes one), or run this as that user";

    private final boolean trusted;
    private final Deque<String> left = new ArrayDeque<>();
    private Path at;
    private int links;

    private Way(Path path, boolean trusted) {
        this.trusted = trusted;
        Path absolute = path.toAbsolutePath();
        this.at = absolute.getRoot();
        prepend(absolute);
    }

    /**
     * The folder's own path, if nobody but root can change what it means or what the names in it mean that root gave.
     *
     * @throws DiskException if somebody can, or there is no such folder
     */
    static Path trusted(Path folder) throws DiskException {
        Way way = new Way(folder, true);
        way.require(way.at, look(way.at));
        Path found = way.walk();
        way.lookAtServers();
        return found;
    }

    static boolean isTrusted(Path folder) {
        try {
            return trusted(folder).equals(folder);
        } catch (DiskException e) {
            return false;
        }
    }

    /** The file's or folder's own path, links followed only where root made them. What it means may change. */
    static Path withoutForeignLinks(Path path) throws DiskException {
        return new Way(path, false).walk();
    }

    private void prepend(Path names) {
        for (int i = names.getNameCount() - 1; i >= 0; i--) {
            left.push(names.getName(i).toString());
        }
    }

    private Path walk() throws DiskException {
        while (!left.isEmpty()) {
            String name = left.pop();
            if (name.isEmpty() || name.equals(".")) {
                continue;
            }
            if (name.equals("..")) {
                // No link is on the way here, so this is the folder above.
                at = at.getParent() == null ? at : at.getParent();
                continue;
            }
            Path next = at.resolve(name);
            Stat stat = look(next);
            if (stat.isLink()) {
                follow(next, stat);
            } else {
                if (!left.isEmpty() && !stat.isFolder()) {
                    throw new DiskException(Kind.WRONG_KIND, next + " is no folder; check the path");
                }
                at = next;
                if (trusted) {
                    require(next, stat);
                }
            }
        }
        return at;
    }

    private void follow(Path link, Stat stat) throws DiskException {
        if (stat.owner() != 0) {
            throw new DiskException(
                    Kind.LINK,
                    link + " is a link that user " + stat.owner() + " made, and root follows none of others"
                            + WHAT_TO_DO);
        }
        links++;
        if (links > MOST_LINKS) {
            throw new DiskException(Kind.LINK, link + " leads from link to link without end; check the path");
        }
        try {
            Path target = Files.readSymbolicLink(link);
            if (target.isAbsolute()) {
                at = target.getRoot();
            }
            prepend(target);
        } catch (IOException e) {
            throw DiskException.unreadable(link, e);
        }
    }

    private static Stat look(Path path) throws DiskException {
        try {
            return Stat.of(path);
        } catch (NoSuchFileException e) {
            throw new DiskException(Kind.MISSING, path + ": no such file or folder; check the path", e);
        } catch (IOException e) {
            throw DiskException.unreadable(path, e);
        }
    }

    private void require(Path folder, Stat stat) throws DiskException {
        if (!stat.isFolder()) {
            throw new DiskException(Kind.WRONG_KIND, folder + " is no folder; check the path");
        }
        boolean open = stat.isOpenToOthers();
        if (stat.owner() == 0 && !open) {
            return;
        }
        Optional<Mount> mount = Mount.of(folder, Mount.all());
        // All on it may seem to belong to whoever mounted it; but its names lead nowhere else, and what may be done to
        // the log on a stick by who can touch it is no matter of permissions.
        if (mount.isPresent() && mount.get().hasNoLinks()) {
            return;
        }
        throw new DiskException(
                Kind.FOREIGN,
                folder
                        + (stat.owner() == 0
                                ? " may be written to by others, who could lead root to other files from there; take"
                                        + " that right away (chmod go-w), or name another folder"
                                : " belongs to user " + stat.owner() + ", who could lead root to other files from there"
                                        + WHAT_TO_DO)
                        + mount.filter(m ->
                                        m.type().startsWith("ntfs") || m.type().equals("fuseblk"))
                                .map(m -> " (or mount it with -o uid=0,umask=022)")
                                .orElse(""));
    }

    /** What a user mounted through FUSE seems to belong to whom he likes. */
    private void lookAtServers() throws DiskException {
        List<Mount> mounts = Mount.all();
        for (Mount mount : mounts) {
            OptionalLong user = mount.servedByUser();
            if (user.isPresent() && mount.holds(at)) {
                throw new DiskException(
                        Kind.FOREIGN,
                        mount.point() + " is a file system that user " + user.getAsLong() + " serves" + WHAT_TO_DO);
            }
        }
    }
}
