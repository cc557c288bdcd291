// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.follow;

import dev.loadwitness.runlog.LogLimits;
import java.io.IOException;
import java.io.UncheckedIOException;

/** The memory that one scan may keep. What does not fit ends it with a sentence, never with an error of the machine. */
public final class Room {
    private long free;

    public Room() {
        this(LogLimits.KEPT_BYTES);
    }

    public Room(long bytes) {
        this.free = bytes;
    }

    /**
     * Takes room for what will be kept.
     *
     * @param bytes about as many as that; negative to give some back
     */
    public void take(long bytes) {
        free -= bytes;
        if (free < 0) {
            throw tooMuch("what would have to be kept of its channels, stages and boots together takes more than "
                    + (LogLimits.KEPT_BYTES >> 20) + " MiB");
        }
    }

    /**
     * Complains if there are too many.
     *
     * @param what for example {@code boots}
     */
    public static void check(long number, long most, String what) {
        if (number > most) {
            throw tooMuch("it holds more than " + most + " " + what);
        }
    }

    private static UncheckedIOException tooMuch(String what) {
        return new UncheckedIOException(
                new IOException(what + "; such a log is not judged (docs/run-log.md, \"Limits\")"));
    }
}
