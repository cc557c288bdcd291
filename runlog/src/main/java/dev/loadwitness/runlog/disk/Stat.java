// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import static java.util.Objects.requireNonNull;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.NoSuchFileException;
import java.nio.file.Path;
import java.util.Map;
import java.util.Optional;

/**
 * What the system says of a name itself, never of what it leads to ({@code inode(7)}).
 *
 * @param links how many names the file has
 * @param key device and number: no other file has the same while this one is there
 */
record Stat(long owner, long group, int mode, int links, Object key) {
    private static final int WRITABLE_BY_GROUP = 0020;
    private static final int WRITABLE_BY_ALL = 0002;
    private static final int STICKY = 01000;
    private static final int KIND = 0170000;
    private static final int LINK = 0120000;
    private static final int FILE = 0100000;
    private static final int FOLDER = 0040000;

    /** Of {@code path}. */
    static Stat of(Path path) throws IOException {
        Map<String, Object> unix =
                Files.readAttributes(path, "unix:uid,gid,mode,nlink,fileKey", LinkOption.NOFOLLOW_LINKS);
        return new Stat(
                number(unix, "uid").longValue(),
                number(unix, "gid").longValue(),
                number(unix, "mode").intValue(),
                number(unix, "nlink").intValue(),
                requireNonNull(unix.get("fileKey"), "a Unix file system has keys"));
    }

    private static Number number(Map<String, Object> attributes, String asked) {
        return (Number) requireNonNull(attributes.get(asked), asked);
    }

    /** Empty if there is nothing of that name. */
    static Optional<Stat> find(Path path) throws IOException {
        try {
            return Optional.of(of(path));
        } catch (NoSuchFileException e) {
            return Optional.empty();
        }
    }

    boolean isLink() {
        return (mode & KIND) == LINK;
    }

    boolean isFile() {
        return (mode & KIND) == FILE;
    }

    boolean isFolder() {
        return (mode & KIND) == FOLDER;
    }

    /** Whether others may put names into this folder or take those of its owner away. Root's own group has no others. */
    boolean isOpenToOthers() {
        boolean writable = (mode & WRITABLE_BY_ALL) != 0 || ((mode & WRITABLE_BY_GROUP) != 0 && group != 0);
        return writable && (mode & STICKY) == 0;
    }
}
