// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.disk;

import java.io.IOException;
import java.nio.file.Path;
import org.jspecify.annotations.Nullable;

/** A file or folder is not used. The message says in whole what, where and what to do; it needs no other words. */
public final class DiskException extends IOException {
    private static final long serialVersionUID = 1;

    /** What callers tell apart. */
    public enum Kind {
        MISSING,
        /** It cannot be opened or looked at, for want of permission most often. */
        UNREADABLE,
        /** A folder, device, pipe or socket in the place of a file, or a file in that of a folder. */
        WRONG_KIND,
        /** A link where none is followed. */
        LINK,
        /** Somebody else's, or in a place that somebody else can change. */
        FOREIGN,
        TOO_LARGE,
        NOT_TEXT,
        EXISTS,
        /** What was to be replaced is an input, a run log or a key. */
        PRECIOUS,
        UNWRITABLE
    }

    private final Kind kind;
    private final String message;

    DiskException(Kind kind, String message) {
        this(kind, message, null);
    }

    DiskException(Kind kind, String message, @Nullable Throwable cause) {
        super(message, cause);
        this.message = message;
        this.kind = kind;
    }

    static DiskException unreadable(Path path, IOException cause) {
        return new DiskException(
                Kind.UNREADABLE, path + " cannot be opened: " + reason(cause) + "; check its permissions", cause);
    }

    /** Java's own exceptions of files say nothing but the path where the system's word was the usual one. */
    static String reason(IOException e) {
        if (e instanceof java.nio.file.AccessDeniedException) {
            return "permission denied";
        }
        if (e instanceof java.nio.file.NoSuchFileException) {
            return "it is not there";
        }
        if (e instanceof java.nio.file.FileSystemException f && f.getReason() != null) {
            return f.getReason();
        }
        return e.getMessage() == null ? e.toString() : e.getMessage();
    }

    /** As it was given, so never null. */
    @Override
    public String getMessage() {
        return message;
    }

    public Kind kind() {
        return kind;
    }
}
