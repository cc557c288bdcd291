// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import dev.loadwitness.runlog.command.Sysexits;
import java.io.ByteArrayOutputStream;
import java.io.PrintStream;
import java.nio.file.Files;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** The commands as a person calls them: exit status and what they print. */
class JobCommandTest {
    private static final Path EXAMPLE = Path.of("..", "docs", "examples", "job-sheet.yaml");
    private static final String HEAD = "format: loadwitness-job-sheet/1\nticket: T\n";

    /** {@code printf abc | sha256sum}: FIPS 180-2, appendix B.1. */
    private static final String SHA256_OF_ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

    @TempDir
    Path folder;

    private record Called(int status, String out, String err) {}

    private static Called call(String... args) {
        PrintStream out = System.out;
        PrintStream err = System.err;
        ByteArrayOutputStream said = new ByteArrayOutputStream();
        ByteArrayOutputStream complained = new ByteArrayOutputStream();
        try {
            System.setOut(new PrintStream(said, true, UTF_8));
            System.setErr(new PrintStream(complained, true, UTF_8));
            return new Called(Main.run(args), said.toString(UTF_8), complained.toString(UTF_8));
        } finally {
            System.setOut(out);
            System.setErr(err);
        }
    }

    @Test
    void newWritesASheetThatCheckReadsAndNeverOverwrites() throws Exception {
        String file = folder.resolve("sheet.yaml").toString();
        assertThat(call("job", "new", "--ticket", "FBR-2026-0142", "--out", file))
                .isEqualTo(new Called(0, file + "\n", ""));
        Called checked = call("job", "check", file);
        assertThat(checked.status()).isEqualTo(Exit.INCONCLUSIVE);
        assertThat(checked.out()).contains("Still open:", "rated-graphics-power", "hand-checks: fans: not made");

        String before = Files.readString(Path.of(file));
        Called again = call("job", "new", "--out", file);
        assertThat(again.status()).isEqualTo(Sysexits.CANNOT_CREATE);
        assertThat(again.err()).contains("exists already");
        assertThat(Files.readString(Path.of(file))).isEqualTo(before);
    }

    @Test
    void aTicketThatNoSheetHoldsIsRefusedAndNothingIsWritten() {
        Path file = folder.resolve("sheet.yaml");
        Called called = call("job", "new", "--ticket", "a\u001B[2J", "--out", file.toString());
        assertThat(called.status()).isEqualTo(Sysexits.USAGE);
        assertThat(called.err()).startsWith("--ticket: ").doesNotContain("\u001B");
        assertThat(file).doesNotExist();
    }

    @Test
    void checkListsMistakesWithLineAndColumn() throws Exception {
        Path file = folder.resolve("sheet.yaml");
        Files.writeString(file, HEAD + "tecnician: x\nadapter: {whose: me}\n");
        Called called = call("job", "check", file.toString());
        assertThat(called.status()).isEqualTo(Sysexits.DATA);
        assertThat(called.out())
                .contains("sheet.yaml line 3, column 1: unknown key", "technician", "sheet.yaml line 4, column 18");

        Called json = call("job", "check", "--json", file.toString());
        JsonNode tree = new ObjectMapper().readTree(json.out());
        assertThat(json.status()).isEqualTo(Sysexits.DATA);
        assertThat(tree.get("valid").asBoolean()).isFalse();
        assertThat(tree.at("/problems/1/line").asInt()).isEqualTo(4);
    }

    @Test
    void theExampleHasOneThingOpen() {
        Called called = call("job", "check", EXAMPLE.toString());
        assertThat(called.status()).isEqualTo(Exit.INCONCLUSIVE);
        assertThat(called.out().lines().filter(l -> l.startsWith("  ")))
                .containsExactly(
                        "  PU3-before.jpg: not beside the sheet, so not checked",
                        "  hand-checks: hinges, lid and screws: not made");
    }

    @Test
    void aSheetWithNothingOpenEndsWithZero() throws Exception {
        Path file = folder.resolve("sheet.yaml");
        Files.writeString(file, Files.readString(EXAMPLE).replace("done: no", "done: yes"));
        assertThat(call("job", "check", file.toString()).status()).isZero();
    }

    @Test
    void aPhotoBesideTheSheetIsComparedWithItsDigest() throws Exception {
        Path file = folder.resolve("sheet.yaml");
        Files.writeString(file, HEAD + "photos: [{file: a.jpg, sha256: " + SHA256_OF_ABC + "}, {file: b.jpg}]\n");
        Files.writeString(folder.resolve("a.jpg"), "abc");
        Files.writeString(folder.resolve("b.jpg"), "abc");
        Called same = call("job", "check", file.toString());
        assertThat(same.status()).isEqualTo(Exit.INCONCLUSIVE);
        assertThat(same.out().replaceAll("\\s+", " "))
                .contains("a.jpg: the file is the one")
                .contains("b.jpg: no digest on the sheet; write sha256: " + SHA256_OF_ABC);

        Files.writeString(folder.resolve("a.jpg"), "abd");
        Called other = call("job", "check", file.toString());
        assertThat(other.status()).isEqualTo(Sysexits.DATA);
        assertThat(other.out()).contains("a.jpg: the file is not the one");
        Called judged = call(
                "judge", Path.of("..", "sample-runs", "clean-pass", "run.jsonl").toString(), "--job", file.toString());
        assertThat(judged.status()).isEqualTo(Sysexits.DATA);
        assertThat(judged.err()).contains("is not the photo that the sheet names");
    }

    @Test
    void theSheetOfAnotherTicketIsRefused() throws Exception {
        Path file = folder.resolve("sheet.yaml");
        Files.writeString(file, HEAD);
        Called judged = call(
                "judge", Path.of("..", "sample-runs", "clean-pass", "run.jsonl").toString(), "--job", file.toString());
        assertThat(judged.status()).isEqualTo(Sysexits.DATA);
        assertThat(judged.err()).contains("for ticket T and the run is of ticket FBR-2026-0142");
    }

    @Test
    void helpNamesCommandsAndShowsAnExample() {
        assertThat(call("job", "--help").out()).contains("new", "check", "Example:");
        assertThat(call("job", "new", "--help").out()).contains("Example:", "Exit status:");
        assertThat(call("job", "check", "--help").out()).contains("Example:", "--json", "66");
        assertThat(call("job").status()).isEqualTo(Sysexits.USAGE);
        assertThat(call("job", "check", folder.resolve("none.yaml").toString()).status())
                .isEqualTo(Sysexits.NO_INPUT);
    }
}
