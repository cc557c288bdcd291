// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.util.Map;
import java.util.Optional;

/** Whose files are these, and could somebody else have put them there? Only where the file system has owners. */
public final class Ownership {
    private static final int WRITABLE_BY_OTHERS = 0022;
    private static final int STICKY = 01000;

    private Ownership() {}

    /** Number of this program's user; empty where the system does not tell. */
    public static Optional<Long> ownUser() {
        // Not "self": that is a link, and the link is always root's.
        return user(Path.of("/proc", Long.toString(ProcessHandle.current().pid())));
    }

    private static Optional<Long> user(Path path) {
        try {
            return Optional.of(((Number) Files.getAttribute(path, "unix:uid", LinkOption.NOFOLLOW_LINKS)).longValue());
        } catch (IOException | RuntimeException e) {
            return Optional.empty(); // no Unix
        }
    }

    /**
     * Why {@code user} must not write to this file or folder: it is a link, or somebody else's. A program that appends to
     * another user's file can be led to append to anything.
     */
    public static Optional<String> notOf(long user, Path path) {
        if (Files.isSymbolicLink(path)) {
            return Optional.of(path + " is a link");
        }
        Optional<Long> owner = user(path);
        return owner.isEmpty() || owner.get() == user
                ? Optional.empty()
                : Optional.of(path + " belongs to user " + owner.get() + ", and this is user " + user);
    }

    /**
     * Why others than root could put something else in the place of {@code path}: the file, or a folder on the way to it,
     * is not root's, or others may write to it. A folder with the sticky bit, as {@code /tmp} has it, keeps what is
     * root's.
     *
     * @param top where to stop looking: {@code /}, or a made-up tree
     */
    public static Optional<String> changeableByOthers(Path path, Path top) {
        Path at = path.toAbsolutePath().normalize();
        Path end = top.toAbsolutePath().normalize();
        boolean innermost = true;
        while (at != null && at.startsWith(end)) {
            try {
                Map<String, Object> stat = Files.readAttributes(at, "unix:uid,mode", LinkOption.NOFOLLOW_LINKS);
                long owner = ((Number) stat.get("uid")).longValue();
                int mode = ((Number) stat.get("mode")).intValue();
                if (Files.isSymbolicLink(at)) {
                    return Optional.of(at + " is a link");
                }
                if (owner != 0) {
                    return Optional.of(at + " belongs to user " + owner);
                }
                boolean keeps = !innermost && (mode & STICKY) != 0;
                if ((mode & WRITABLE_BY_OTHERS) != 0 && !keeps) {
                    return Optional.of("others may write to " + at);
                }
            } catch (IOException | RuntimeException e) {
                return Optional.of(at + " cannot be looked at: " + e.getMessage());
            }
            innermost = false;
            at = at.getParent();
        }
        return Optional.empty();
    }
}
