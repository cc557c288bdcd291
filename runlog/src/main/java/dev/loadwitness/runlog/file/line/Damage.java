// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import dev.loadwitness.runlog.Word;

/**
 * Something in a log that is not as its writer left it.
 *
 * @param bytes how many bytes could not be read as records; 0 if the record was read nevertheless
 * @param detail one sentence for people
 */
public record Damage(Kind kind, Place place, long bytes, String detail) {
    /** True if a crash during an append explains it, so that it says nothing against the rest. */
    public boolean isTornTail() {
        return kind == Kind.TORN_TAIL;
    }

    /** The sorts of damage. */
    public enum Kind implements Word {
        /** What a crash during an append leaves at the end of a file: expected, and never hidden. */
        TORN_TAIL,
        /** The bytes do not give the chain value that the line states. */
        EDITED,
        /** The record number jumps: records are gone from here. */
        MISSING,
        /** The record number repeats or goes back. */
        REPEATED,
        /** Not a JSON object with the chain as its last member. */
        MALFORMED,
        DUPLICATE_KEY,
        /** Not UTF-8, or a byte order mark. */
        ENCODING,
        NUL_BYTES,
        ABSURD_NUMBER,
        TOO_LONG,
        TOO_DEEP,
        /** Well-formed, but a member is missing or of the wrong type. */
        WRONG_SHAPE,
        /** A good record where the format does not allow it: a sample before its channel table, anything after close. */
        OUT_OF_PLACE
    }
}
