// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.storage;

import dev.loadwitness.agent.process.SpareThread;
import dev.loadwitness.runlog.file.line.LogPosition;
import java.io.IOException;
import java.nio.file.NoSuchFileException;
import java.time.Duration;
import java.util.Optional;
import java.util.concurrent.TimeUnit;
import java.util.function.Consumer;
import org.jspecify.annotations.Nullable;

/**
 * Writes into the journal of attempts on a thread of its own: a stick that hangs must not hold up who samples and guards.
 * While a note is being written the next one waits, and of several only the latest.
 */
public final class JournalNotes {
    /** Writes one note and returns when it is on the disk. */
    public interface Journal {
        void write(Note note) throws IOException;
    }

    /** How far the log had come, and how the run ended or that it is open. */
    public record Note(LogPosition position, String end) {}

    private final Journal journal;
    private final Consumer<String> problem;
    private @Nullable Note next;
    private boolean writing;
    private boolean ending;
    private String failure = "";

    /**
     * Notes into that journal.
     *
     * @param problem told, on the journal's thread, of a note that could not be written
     */
    public JournalNotes(Journal journal, Consumer<String> problem) {
        this.journal = journal;
        this.problem = problem;
        SpareThread.start("journal of attempts", this::write);
    }

    /** Takes a note to be written. Never blocks. */
    public synchronized void note(LogPosition position, String end) {
        next = new Note(position, end);
        notifyAll();
    }

    /** Takes the last note and waits until it is written; what went wrong with it, if anything did. */
    public synchronized Optional<String> finish(LogPosition position, String end, Duration limit)
            throws InterruptedException {
        note(position, end);
        ending = true;
        long until = System.nanoTime() + limit.toNanos();
        while (next != null || writing) {
            long left = until - System.nanoTime();
            if (left <= 0) {
                return Optional.of("its disk has not answered for " + limit.toSeconds() + " s");
            }
            TimeUnit.NANOSECONDS.timedWait(this, left);
        }
        return failure.isEmpty() ? Optional.empty() : Optional.of(failure);
    }

    private void write() {
        try {
            for (Note note = take(); note != null; note = take()) {
                String why = "";
                try {
                    journal.write(note);
                } catch (IOException | RuntimeException e) {
                    // Unchecked ones too: on a disk that is gone Java's file functions throw both.
                    why = why(e);
                    problem.accept(why);
                }
                written(why);
            }
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
    }

    private static String why(Exception e) {
        if (e instanceof NoSuchFileException gone) {
            return "there is none at " + gone.getFile()
                    + "; where the log was moved, name the old one with --journal, or give all logs to --earlier";
        }
        return e instanceof IOException && e.getMessage() != null ? e.getMessage() : e.toString();
    }

    /** Null when the last one was taken before. */
    private synchronized @Nullable Note take() throws InterruptedException {
        while (next == null && !ending) {
            wait();
        }
        Note note = next;
        next = null;
        writing = note != null;
        return note;
    }

    private synchronized void written(String why) {
        failure = why;
        writing = false;
        notifyAll();
    }
}
