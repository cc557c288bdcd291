// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

/** The constants of the format that are not the chain's ({@link Chain} owns those). Said for people in docs/run-log.md. */
public final class Format {
    public static final String NAME = "loadwitness-run/";
    public static final int MAJOR = 1;
    static final int MINOR = 0;

    /** Longest line that is parsed, in bytes without the line feed. */
    public static final int MAX_LINE = 1 << 20;

    /** The same for the header: it carries the whole procedure and job sheet. */
    public static final int MAX_HEADER = 4 << 20;

    /** Deepest nesting of objects and arrays; the record itself is 1. */
    static final int MAX_DEPTH = 32;

    /** Most commas in one line outside of texts: bounds the values in it, and so the memory that reading it takes. */
    static final int MAX_COMMAS = 100_000;

    /** Most different unknown types that are counted by name; the rest are counted together as {@link #OTHER_TYPES}. */
    public static final int MAX_UNKNOWN_TYPES = 100;

    public static final String OTHER_TYPES = "other";

    /** Most digits in one number. */
    static final int MAX_DIGITS = 40;

    /** Largest record number, so that readers whose numbers are doubles keep it exactly. */
    static final long MAX_N = (1L << 53) - 1;

    /** Most lines of a torn tail. More garbage than that is named line by line. */
    public static final int MAX_TORN_LINES = 1000;

    /** What the writer gives to the disk before it waits for it: so much can be unforced when the power goes. */
    public static final int MAX_BATCH = 256 << 10;

    public static final String EXTENSION = ".jsonl";

    private Format() {}

    public static String version() {
        return NAME + MAJOR + "." + MINOR;
    }

    public static String fileName(String stem, int part) {
        return part == 1 ? stem + EXTENSION : stem + ".part" + part + EXTENSION;
    }
}
