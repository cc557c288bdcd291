// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.command.Complaint;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.stream.Stream;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class LogFolderTest {
    @TempDir
    Path folder;

    private Path out;
    private Path work;

    @BeforeEach
    void name() {
        out = folder.resolve("stick/FBR-2026-0142-1");
        work = folder.resolve("internal/deep");
    }

    private static List<String> names(Path folder) throws Exception {
        try (Stream<Path> files = Files.list(folder)) {
            return files.map(f -> f.getFileName().toString()).sorted().toList();
        }
    }

    private LogFolder written() throws Exception {
        LogFolder place = LogFolder.open(out, work);
        Files.writeString(place.writing(), "one");
        Files.writeString(place.folder().resolve("run.part2.jsonl"), "two");
        return place;
    }

    @Test
    void withoutWorkDirTheLogIsWrittenInItsPlaceAndStaysThere() throws Exception {
        LogFolder place = LogFolder.open(out, null);
        Files.writeString(place.writing(), "one");
        place.deliver();
        assertThat(place.log()).isEqualTo(place.writing()).hasContent("one");
        assertThat(names(out)).containsExactly("run.jsonl");
    }

    @Test
    void allPartsAreBroughtAndNothingRemainsWhereTheyWereWritten() throws Exception {
        LogFolder place = written();
        assertThat(names(out)).containsExactly("run.elsewhere");
        assertThat(out.resolve("run.elsewhere"))
                .content()
                .contains(place.folder().toString());
        place.deliver();
        assertThat(names(out)).containsExactly("run.jsonl", "run.part2.jsonl");
        assertThat(out.resolve("run.part2.jsonl")).hasContent("two");
        assertThat(folder.resolve("internal")).doesNotExist();
    }

    @Test
    void aFolderThatWasThereBeforeStays() throws Exception {
        Files.createDirectories(work);
        written().deliver();
        assertThat(work).isEmptyDirectory();
    }

    @Test
    void intoAnotherOrAnEmptyFolderNothingIsBroughtAndTheLogIsNamed() throws Exception {
        LogFolder place = written();
        Files.delete(out.resolve("run.elsewhere"));
        assertThatThrownBy(place::deliver)
                .isInstanceOf(Complaint.class)
                .hasMessageContaining("whole in " + place.folder());
        Files.writeString(out.resolve("run.elsewhere"), "of another run");
        assertThatThrownBy(place::deliver).isInstanceOf(Complaint.class).hasMessageContaining("not the folder");
        assertThat(names(out)).containsExactly("run.elsewhere");
        assertThat(names(place.folder())).containsExactly("run.jsonl", "run.part2.jsonl", "run.work");
    }

    @Test
    void aLogThatNeverCameToBeLeavesNothing() throws Exception {
        LogFolder.open(out, work).abandon();
        assertThat(folder.resolve("internal")).doesNotExist();
        assertThat(out).doesNotExist();
        LogFolder.open(out, null).abandon();
        assertThat(out).doesNotExist();
        Files.createDirectories(out);
        LogFolder.open(out, null).abandon();
        assertThat(out).isEmptyDirectory();
    }

    @Test
    void whereALogIsOrIsExpectedNoOtherBegins() throws Exception {
        written();
        assertThatThrownBy(() -> LogFolder.open(out, null)).hasMessageContaining("run.elsewhere exists already");
        Path again = folder.resolve("other/FBR-2026-0142-1");
        assertThatThrownBy(() -> LogFolder.open(again, work)).hasMessageContaining("killed run");
    }

    @Test
    void aDeliveryThatBrokeOffIsTakenUpAgain() throws Exception {
        LogFolder place = written();
        Files.writeString(out.resolve("run.part2.jsonl"), "two");
        LogFolder.reopen(out).deliver();
        assertThat(names(out)).containsExactly("run.jsonl", "run.part2.jsonl");
        assertThat(place.folder()).doesNotExist();
    }

    @Test
    void anotherLogInItsPlaceIsNotReplaced() throws Exception {
        LogFolder place = written();
        Files.writeString(out.resolve("run.part2.jsonl"), "of another run");
        assertThatThrownBy(place::deliver).hasMessageContaining("exists already");
        assertThat(out.resolve("run.part2.jsonl")).hasContent("of another run");
        assertThat(names(place.folder())).containsExactly("run.jsonl", "run.part2.jsonl", "run.work");
    }

    @Test
    void aNoteThatSomebodyWroteOnTheStickIsNotObeyed() throws Exception {
        Path theirs = Files.createDirectories(folder.resolve("home"));
        Files.writeString(theirs.resolve("run.jsonl"), "one");
        Files.createDirectories(out);
        Files.writeString(out.resolve("run.elsewhere"), WorkNote.fresh(theirs).text());
        assertThatThrownBy(() -> LogFolder.reopen(out))
                .isInstanceOf(Complaint.class)
                .hasMessageContaining("which this program did not make for that run");
    }

    @Test
    void nothingBeginsThroughALinkAndNothingIsGoneOnWithThroughOne() throws Exception {
        Files.createDirectories(out);
        Path link = Files.createSymbolicLink(out.resolve("run.jsonl"), folder.resolve("nowhere"));
        assertThatThrownBy(() -> LogFolder.open(out, null)).hasMessageContaining("run.jsonl exists already");
        assertThatThrownBy(() -> LogFolder.reopen(out).checkOwn())
                .isInstanceOf(Complaint.class)
                .hasMessageContaining(link + " is a link");
    }
}
