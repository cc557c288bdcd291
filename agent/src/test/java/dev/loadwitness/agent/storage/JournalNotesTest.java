// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.storage;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.file.line.LogPosition;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.time.Duration;
import java.util.ArrayList;
import java.util.Collections;
import java.util.List;
import java.util.concurrent.CountDownLatch;
import java.util.concurrent.TimeUnit;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

@Timeout(20)
final class JournalNotesTest {
    private static final Duration LIMIT = Duration.ofSeconds(10);

    private final List<String> written = Collections.synchronizedList(new ArrayList<>());
    private final List<String> problems = Collections.synchronizedList(new ArrayList<>());
    private final CountDownLatch hangs = new CountDownLatch(1);
    private final CountDownLatch diskAnswers = new CountDownLatch(1);

    private static LogPosition position(long records) {
        return new LogPosition(records, "0".repeat(64));
    }

    /** Hangs in its first note. */
    private void hang(JournalNotes.Note note) {
        hangs.countDown();
        try {
            diskAnswers.await();
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
        written.add(note.position().records() + " " + note.end());
    }

    @Test
    void aDiskThatHangsHoldsNobodyUpAndOnlyTheLatestNoteWaits() throws InterruptedException {
        JournalNotes notes = new JournalNotes(this::hang, problems::add);
        notes.note(position(1), "open");
        assertThat(hangs.await(LIMIT.toSeconds(), TimeUnit.SECONDS)).isTrue();
        // This thread goes on though nothing was written.
        notes.note(position(2), "open");
        notes.note(position(3), "open");
        assertThat(written).isEmpty();
        diskAnswers.countDown();
        assertThat(notes.finish(position(4), "completed", LIMIT)).isEmpty();
        assertThat(written).startsWith("1 open").endsWith("4 completed").doesNotContain("2 open");
    }

    @Test
    void theLastNoteIsOnTheDiskWhenFinishReturns() throws InterruptedException {
        JournalNotes notes = new JournalNotes(n -> written.add(n.end()), problems::add);
        assertThat(notes.finish(position(9), "completed", LIMIT)).isEmpty();
        assertThat(written).containsExactly("completed");
    }

    @Test
    void finishWaitsNoLongerThanItMay() throws InterruptedException {
        JournalNotes notes = new JournalNotes(this::hang, problems::add);
        assertThat(notes.finish(position(1), "completed", Duration.ofMillis(50)))
                .hasValueSatisfying(why -> assertThat(why).contains("has not answered"));
        diskAnswers.countDown();
    }

    @Test
    void aNoteThatCannotBeWrittenIsToldAndTheNextIsTried() throws InterruptedException {
        JournalNotes notes = new JournalNotes(
                n -> {
                    written.add(n.end());
                    if (n.end().equals("open")) {
                        throw new IOException("no room left");
                    }
                },
                problems::add);
        notes.note(position(1), "open");
        while (problems.isEmpty()) {
            Thread.sleep(5);
        }
        assertThat(notes.finish(position(2), "completed", LIMIT)).isEmpty();
        assertThat(problems).containsExactly("no room left");
        assertThat(written).containsExactly("open", "completed");
    }

    @Test
    void whatTheJournalThrowsUncheckedDoesNotEndItsThread() throws InterruptedException {
        JournalNotes notes = new JournalNotes(
                n -> {
                    written.add(n.end());
                    if (n.end().equals("open")) {
                        throw new UncheckedIOException(new IOException("input/output error"));
                    }
                },
                problems::add);
        notes.note(position(1), "open");
        while (problems.isEmpty()) {
            Thread.sleep(5);
        }
        assertThat(notes.finish(position(2), "completed", LIMIT)).isEmpty();
        assertThat(problems).singleElement().asString().contains("input/output error");
        assertThat(written).containsExactly("open", "completed");
    }
}
