// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static java.nio.file.StandardOpenOption.APPEND;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.file.line.LogPosition;
import dev.loadwitness.runlog.file.read.Example;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class AttemptJournalTest {
    private static final String TICKET = "FBR-2026-0142";

    @TempDir
    Path folder;

    private Path file;
    private AttemptJournal journal;

    @BeforeEach
    void begin() {
        file = folder.resolve("attempts.jsonl");
        journal = new AttemptJournal(file);
    }

    private void append(String ticket, String run, char chain, String end) throws Exception {
        journal.append(
                ticket,
                run,
                Example.BEGIN,
                new LogPosition(9, String.valueOf(chain).repeat(64)),
                end);
    }

    @Test
    void remembersTheLastLineOfEachRunOfATicketInTheOrderTheyBegan() throws Exception {
        append(TICKET, "one", 'a', AttemptJournal.OPEN);
        append("other", "else", 'e', "completed");
        append(TICKET, "two", 'b', AttemptJournal.OPEN);
        append(TICKET, "one", 'c', "safety-stop");
        AttemptJournal.Memory memory = new AttemptJournal(file).read(TICKET);
        assertThat(memory.attempts())
                .containsExactly(
                        new EarlierAttempt("one", "c".repeat(64), "safety-stop"),
                        new EarlierAttempt("two", "b".repeat(64), "open"));
        assertThat(memory.warning()).isEmpty();
    }

    @Test
    void anAbsentJournalRemembersNothing() throws Exception {
        assertThat(journal.read(TICKET).attempts()).isEmpty();
    }

    @Test
    void atEveryCutTheWholeLinesSurviveAndTheNextLineIsNotTornWithThem() throws Exception {
        append(TICKET, "one", 'a', AttemptJournal.OPEN);
        long first = Files.size(file);
        append(TICKET, "two", 'b', AttemptJournal.OPEN);
        byte[] whole = Files.readAllBytes(file);
        for (int cut = (int) first; cut < whole.length - 1; cut++) {
            Files.write(file, Arrays.copyOf(whole, cut));
            append(TICKET, "three", 'c', "completed");
            AttemptJournal.Memory memory = journal.read(TICKET);
            assertThat(memory.attempts())
                    .as("cut at byte %d", cut)
                    .extracting(EarlierAttempt::runId)
                    .containsExactly("one", "three");
            assertThat(memory.warning().isPresent()).as("cut at byte %d", cut).isEqualTo(cut > first);
        }
    }

    @Test
    void garbageIsPassedOverAndSaidSo() throws Exception {
        append(TICKET, "one", 'a', AttemptJournal.OPEN);
        Files.writeString(file, "garbage\n\0\0\n{\"ticket\":\"" + TICKET + "\"}\n[]\n", APPEND);
        append(TICKET, "two", 'b', AttemptJournal.OPEN);
        AttemptJournal.Memory memory = journal.read(TICKET);
        assertThat(memory.attempts()).hasSize(2);
        assertThat(memory.warning()).hasValueSatisfying(text -> assertThat(text).contains("4 unreadable lines"));
    }
}
