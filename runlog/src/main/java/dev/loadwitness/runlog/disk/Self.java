// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.util.OptionalLong;

/** The user that this program runs as. */
public final class Self {
    private static final OptionalLong USER = ask();

    private Self() {}

    /** Number of the user; empty where the system does not tell. */
    public static OptionalLong user() {
        return USER;
    }

    public static boolean isRoot() {
        return USER.isPresent() && USER.getAsLong() == 0;
    }

    private static OptionalLong ask() {
        try {
            // Not "self": that is a link, and the link is always root's.
            Path self = Path.of("/proc", Long.toString(ProcessHandle.current().pid()));
            return OptionalLong.of(
                    ((Number) Files.getAttribute(self, "unix:uid", LinkOption.NOFOLLOW_LINKS)).longValue());
        } catch (IOException | RuntimeException e) {
            // A root without /proc. Java asks the system for this name, no variable of the environment.
            return "root".equals(System.getProperty("user.name")) ? OptionalLong.of(0) : OptionalLong.empty();
        }
    }
}
