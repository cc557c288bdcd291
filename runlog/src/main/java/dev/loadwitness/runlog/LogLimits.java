// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/**
 * How much of what a log lists is judged. Hours, samples and events have no limit; what is kept for each of the things
 * below has, so that a log from anywhere is judged within a heap of {@link #HEAP_BYTES}, or refused with a sentence.
 * Limits of a line are the format's own. Said for people in docs/run-log.md, "Limits".
 */
public final class LogLimits {
    /** The heap within which both programs do their work, whatever they are given: {@code -Xmx512m}. */
    public static final long HEAP_BYTES = 512L << 20;

    /** Different channels in one log. */
    public static final int CHANNELS = 1_000;

    /** Channels of all channel tables of one log together: a new table begins with each boot. */
    public static final int CHANNELS_OF_ALL_TABLES = 50_000;

    public static final int BOOTS = 500;

    /** Stages begun, those begun again after an interruption included. */
    public static final int STAGES = 500;

    /** Earlier attempts that a header names. */
    public static final int EARLIER_ATTEMPTS = 1_000;

    /** Events kept one by one; the rest are counted, and the evidence is then not whole. */
    public static final int EVENTS = 10_000;

    /** Letters of the events kept one by one. */
    public static final long EVENT_CHARS = 8L << 20;

    /** Letters of one text of an event, and facts of one event; what is beyond is cut off. */
    public static final int EVENT_TEXT_CHARS = 4_000;

    public static final int EVENT_FACTS = 50;

    /** Bytes of all that is kept beside: courses by stage and channel, last minutes and texts of boots and channels. */
    public static final long KEPT_BYTES = 96L << 20;

    private LogLimits() {}
}
