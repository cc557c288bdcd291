// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.storage.JournalNotes;
import dev.loadwitness.agent.storage.StorageEvents;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.file.write.AttemptJournal;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.file.Path;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.atomic.AtomicBoolean;

/** The journal of attempts on this run's ticket, if it has one: what came before, and the notes of this attempt. */
final class TicketJournal {
    static final String FAILED = "this attempt could not be noted in the journal of attempts: ";

    private final String ticket;
    private final Optional<AttemptJournal> journal;

    TicketJournal(RunOptions options) {
        this.ticket = options.ticket == null ? "" : options.ticket;
        this.journal = Optional.ofNullable(options.ticket).map(given -> new AttemptJournal(file(options)));
    }

    /** For a log that lies in no ticket's folder, beside it. */
    private static Path file(RunOptions options) {
        return options.journal != null
                ? options.journal
                : options.out.toAbsolutePath().normalize().resolveSibling(Home.JOURNAL);
    }

    /** The attempts before this one; what is doubtful about them is said. */
    List<EarlierAttempt> earlier(PrintStream out) throws Complaint {
        if (journal.isEmpty()) {
            return List.of();
        }
        try {
            AttemptJournal.Memory memory = journal.get().read(ticket);
            memory.warning().ifPresent(out::println);
            return memory.attempts();
        } catch (IOException e) {
            throw new Complaint(
                    Sysexits.NO_INPUT,
                    "the journal of earlier attempts cannot be read: " + e.getMessage()
                            + "; mend it or name another with --journal");
        }
    }

    /** @param isThere whether this attempt stands in it already */
    Optional<JournalNotes> notes(String runId, boolean isThere, StorageEvents told) {
        return journal.map(attempts -> notes(attempts, runId, isThere, told));
    }

    private JournalNotes notes(AttemptJournal attempts, String runId, boolean isThere, StorageEvents told) {
        AtomicBoolean begun = new AtomicBoolean(isThere);
        return new JournalNotes(
                note -> {
                    if (begun.get()) {
                        attempts.goOn(ticket, runId, Instant.now(), note.position(), note.end());
                    } else {
                        attempts.append(ticket, runId, Instant.now(), note.position(), note.end());
                        begun.set(true);
                    }
                },
                why -> told.tell(EventKind.STORAGE_LOW, Map.of("detail", FAILED + why)));
    }
}
