// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.place.LogFolder;
import dev.loadwitness.agent.program.Exit;
import dev.loadwitness.agent.storage.JournalNotes;
import dev.loadwitness.agent.storage.StorageWatch;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.file.write.AttemptJournal;
import dev.loadwitness.runlog.file.write.RunLogWriter;
import java.io.PrintStream;
import java.time.Duration;
import java.util.Optional;

/** The log of a session: takes its records, waits for its disk at the end, and brings it to its place. */
final class SessionLog {
    static final Duration CLOSE_WITHIN = Duration.ofSeconds(10);

    private static final Duration JOURNAL_EVERY = Duration.ofMinutes(1);
    private static final Duration FOREVER = Duration.ofDays(365);

    private final RunLogWriter writer;
    private final LogFolder place;
    private final Optional<JournalNotes> notes;
    private final StorageWatch storage;
    private final RunOptions options;
    private final PrintStream out;
    private final boolean terminal;
    private final StopSignal signal;

    private CloseReason closeReason = CloseReason.AGENT_FAILED;
    private boolean closed;
    private Optional<String> leftOpen = Optional.empty();
    private long askedTicket;
    private long nextNote;

    SessionLog(
            RunLogWriter writer,
            LogFolder place,
            Optional<JournalNotes> notes,
            RunOptions options,
            PrintStream out,
            boolean terminal,
            StopSignal signal) {
        this.writer = writer;
        this.place = place;
        this.notes = notes;
        this.storage = new StorageWatch(writer);
        this.options = options;
        this.out = out;
        this.terminal = terminal;
        this.signal = signal;
    }

    /** What is done between the log's begin and its end. */
    interface Body {
        void run() throws Complaint, InterruptedException;
    }

    /** Does that, brings the log to its end, and returns the exit status. */
    int carryThrough(Body body) throws Complaint, InterruptedException {
        signal.listen();
        try {
            String lost = "";
            try {
                body.run();
            } finally {
                long left = settle();
                if (left > 0) {
                    lost = storage.lost(left, path());
                    writer.close(Duration.ofMillis(1));
                } else {
                    lastNote();
                }
            }
            if (!lost.isEmpty()) {
                throw new Complaint(Sysexits.IO, lost);
            }
            if (leftOpen.isPresent()) {
                out.println(place.writing() + leftOpen.get());
                return ends(Exit.STOPPED);
            }
            place.deliver();
            place.delivered().forEach(out::println);
            out.flush();
            return ends(Exit.of(closeReason));
        } catch (Complaint complaint) {
            signal.status(complaint.status());
            if (signal.isGiven()) {
                // Nobody above comes to say it any more.
                System.err.println(complaint.getMessage());
            }
            throw complaint;
        } finally {
            signal.finished();
        }
    }

    private int ends(int status) {
        signal.status(status);
        return status;
    }

    private long settle() {
        boolean ctrlC = terminal && options.waitForLog == null && !signal.isGiven();
        Duration limit = ctrlC ? FOREVER : signal.within(Duration.ofSeconds(options.waitForLogSeconds()));
        return storage.settle(CLOSE_WITHIN, limit, out, path(), ctrlC, signal::givesUp);
    }

    void append(LogRecord logRecord) {
        long ticket = writer.append(logRecord);
        if (logRecord instanceof Event event && event.known().equals(Optional.of(EventKind.OPERATOR_ASKED))) {
            askedTicket = ticket;
        }
        if (logRecord instanceof Close close) {
            closeReason = Word.find(CloseReason.class, close.reason()).orElseThrow();
            closed = true;
        }
    }

    /** The log is not closed: it is taken up again after the next start. */
    void leaveOpen(String why) {
        leftOpen = Optional.of(why);
    }

    /** To be asked means to switch off, perhaps: the asking must be on the disk first. */
    boolean mayAsk() throws InterruptedException {
        return writer.awaitDurable(askedTicket, Duration.ZERO);
    }

    StorageWatch storage() {
        return storage;
    }

    String path() {
        return place.writing().toString();
    }

    /** Notes in the journal how far the log has come, now and then. */
    void note(long now) {
        // The journal lies beside the log: where that cannot be written, this must not be tried either.
        if (notes.isPresent() && now >= nextNote && !storage.inTrouble()) {
            notes.get().note(writer.position(), AttemptJournal.OPEN);
            nextNote = now + JOURNAL_EVERY.toNanos();
        }
    }

    private void lastNote() throws InterruptedException {
        if (notes.isPresent()) {
            String end = closed ? closeReason.word() : AttemptJournal.OPEN;
            notes.get()
                    .finish(writer.position(), end, CLOSE_WITHIN)
                    .ifPresent(why -> out.println(TicketJournal.FAILED + why));
        }
    }
}
