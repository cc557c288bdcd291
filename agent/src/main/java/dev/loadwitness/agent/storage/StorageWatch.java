// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.storage;

import dev.loadwitness.runlog.file.write.RunLogWriter;
import java.io.PrintStream;
import java.time.Duration;
import java.time.Instant;
import java.time.ZoneOffset;
import java.time.format.DateTimeFormatter;
import java.time.temporal.ChronoUnit;
import java.util.Locale;
import java.util.Optional;
import java.util.function.BooleanSupplier;

/**
 * Watches how the log's disk takes the records. While it takes none they wait in memory and the run goes on; before
 * that memory is used up the run must end, and then there is time for the disk to come back.
 */
public final class StorageWatch {
    /** The rest is for what a run writes about its end. */
    private static final double NEARLY_USED_UP = 0.9;

    private static final Duration NO_ANSWER = Duration.ofSeconds(5);
    private static final Duration LOOK_EVERY = Duration.ofMillis(500);
    private static final Duration TELL_EVERY = Duration.ofMinutes(1);
    private static final DateTimeFormatter CLOCK =
            DateTimeFormatter.ofPattern("HH:mm:ss 'UTC'", Locale.ROOT).withZone(ZoneOffset.UTC);

    private final RunLogWriter writer;

    /**
     * What to show loudly of the log's disk.
     *
     * @param large for the largest letters: what is the matter, in two or three words
     * @param text the rest of the sentence: what to do, and why
     */
    public record Warning(String large, String text) {
        public static final String NO_DISK = "NO LOG DISK";
        public static final String LOST = "LOG LOST";

        /** Nothing that is done to the disk helps any more. */
        public boolean isFinal() {
            return large.equals(LOST);
        }
    }

    public StorageWatch(RunLogWriter writer) {
        this.writer = writer;
    }

    /** True while the disk is known to take nothing, or has not answered for long. */
    public boolean inTrouble() {
        return why().isPresent();
    }

    private Optional<String> why() {
        Optional<String> trouble = lostFor().or(writer::trouble);
        if (trouble.isPresent()) {
            return trouble;
        }
        Duration age = writer.oldestUndurableAge(System.nanoTime());
        return age.compareTo(NO_ANSWER) > 0
                ? Optional.of("the log's disk has not answered for " + age.toSeconds() + " s")
                : Optional.empty();
    }

    /** Why the log can no longer be kept, whatever the disk does; the run must end at once. Empty while it can. */
    public Optional<String> lostFor() {
        return writer.defect().map(defect -> "the part of this program that writes the log failed: " + defect);
    }

    /** What to show while nothing is written. */
    public Optional<Warning> warning() {
        Optional<String> lost = lostFor();
        if (lost.isPresent()) {
            return Optional.of(new Warning(
                    Warning.LOST,
                    "NOTHING MORE IS WRITTEN. The load comes off and the run ends; keep the stick, and run again with"
                            + " a new log. (" + lost.get() + ")"));
        }
        return why().map(why -> new Warning(
                Warning.NO_DISK,
                "PUT THE STICK BACK, or make room on it. The load goes on, and the log is kept in memory, which lasts "
                        + length(writer.memoryLasts(System.nanoTime()), writer.memoryTaken()) + " more. (" + why
                        + ")"));
    }

    private static String length(Duration left, double taken) {
        double share = taken >= NEARLY_USED_UP ? 0 : 1 - (1 - NEARLY_USED_UP) / (1 - taken);
        Duration usable = Duration.ofMillis((long) (left.toMillis() * share));
        if (usable.toHours() >= 10) {
            return "many hours";
        }
        return usable.toMinutes() >= 2 ? usable.toMinutes() + " min" : usable.toSeconds() + " s";
    }

    /** Why the run must end now, while there is still memory for the records of its end; empty if it need not. */
    public Optional<String> mustEnd() {
        if (writer.memoryTaken() < NEARLY_USED_UP) {
            return Optional.empty();
        }
        return Optional.of(
                "the memory for records that wait for the disk is used up: " + why().orElse("the disk is too slow"));
    }

    /**
     * Waits until all is on the disk. The load must be off.
     *
     * @param quietly so long without a word, if the disk takes records
     * @param limit how long the disk may stay away; not kept while records still go to it
     * @return how many records are not on the disk
     */
    public long settle(
            Duration quietly, Duration limit, PrintStream out, String log, boolean ctrlC, BooleanSupplier giveUp) {
        long left = writer.finish(inTrouble() ? LOOK_EVERY : quietly);
        long since = System.nanoTime();
        long nextWord = since;
        long fewest = left;
        while (left > 0 && !giveUp.getAsBoolean() && lostFor().isEmpty()) {
            long now = System.nanoTime();
            if (left < fewest) {
                fewest = left;
                since = now;
            }
            if (now - since > limit.toNanos()) {
                break;
            }
            if (now - nextWord >= 0) {
                nextWord = now + TELL_EVERY.toNanos();
                out.println(Warning.NO_DISK + ". The run is over and the load is off, but the last " + left
                        + " records (since "
                        + undurableSince() + ") are in memory only: " + why().orElse("the disk is slow") + ". "
                        + "Put the stick back where " + log
                        + " was, or make room on it; it is then finished by itself. "
                        + (ctrlC
                                ? "Ctrl-C gives these records up."
                                : "After " + limit.toSeconds() + " s they are given up."));
                out.flush();
            }
            left = writer.finish(LOOK_EVERY);
            if (left == 0) {
                out.println("the log is whole on the disk again");
            }
        }
        return left;
    }

    /** What is and what is not on the disk, for the one who must decide what the log is worth. */
    public String lost(long left, String log) {
        return lostFor().map(why -> Warning.LOST + ". ").orElse("") + log + " ends too early: its first "
                + writer.position().records()
                + " records were written and are on the"
                + " disk; the last " + left + ", since " + undurableSince() + ", are lost, the run's end among them ("
                + why().orElse("the disk gave no answer") + "). What is there can be judged, but not as a whole run";
    }

    private String undurableSince() {
        Duration age = writer.oldestUndurableAge(System.nanoTime());
        return CLOCK.format(Instant.now().minus(age).truncatedTo(ChronoUnit.SECONDS));
    }
}
