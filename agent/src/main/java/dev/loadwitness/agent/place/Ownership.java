// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.util.Optional;

/** Whose files are these? Only where the file system has owners. */
public final class Ownership {
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
}
