// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import java.util.Optional;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

final class HomeTest {
    private static final Instant NOW = Instant.parse("2026-11-25T14:01:00.999Z");

    @TempDir
    private Path stick;

    private Home home;

    @BeforeEach
    void oneStick() throws IOException {
        Files.createDirectories(stick.resolve("thresholds"));
        Files.writeString(stick.resolve("thresholds/quick-check.yaml"), "format: x\n");
        Files.writeString(stick.resolve("thresholds/notes.txt"), "not a procedure\n");
        home = Home.of(Optional.of(stick.toString()), Optional.empty());
    }

    @Test
    void nameWithoutFolderIsAProcedureOfTheStick() {
        assertThat(home.procedure("quick-check")).contains(stick.resolve("thresholds/quick-check.yaml"));
        assertThat(home.procedures()).containsExactly(stick.resolve("thresholds/quick-check.yaml"));
        assertThat(Home.name(home.procedures().get(0))).isEqualTo("quick-check");
    }

    @Test
    void unknownNameIsNoProcedure() {
        assertThat(home.procedure("quick-chek")).isEmpty();
        assertThat(home.procedure("notes")).isEmpty();
    }

    @Test
    void pathStaysAPath() {
        assertThat(home.procedure("mine.yaml")).contains(Path.of("mine.yaml"));
        assertThat(home.procedure("a/quick-check")).contains(Path.of("a/quick-check"));
    }

    @Test
    void packageHasItsProceduresElsewhereAndLogsGoToTheCurrentFolder() {
        Home installed = Home.of(Optional.empty(), Optional.of("/usr/share/loadwitness/thresholds"));
        assertThat(installed.thresholds()).isEqualTo(Path.of("/usr/share/loadwitness/thresholds"));
        assertThat(installed.runs()).isEqualTo(Path.of("runs"));
        assertThat(installed.journal()).isEqualTo(Path.of("runs/loadwitness-journal.jsonl"));
    }

    @Test
    void oneJournalForAllTicketsOfAStick() {
        assertThat(home.journal()).isEqualTo(stick.resolve("runs/loadwitness-journal.jsonl"));
    }

    @Test
    void twoRunsOfOneSecondGetTwoFolders() throws IOException {
        Path first = home.makeRunFolder("FBR-2026-0142", NOW);
        Path second = home.makeRunFolder("FBR-2026-0142", NOW);
        assertThat(first)
                .isEqualTo(stick.resolve("runs/FBR-2026-0142/20261125T140100Z"))
                .isDirectory();
        assertThat(second)
                .isEqualTo(stick.resolve("runs/FBR-2026-0142/20261125T140100Z-2"))
                .isDirectory();
    }

    @Test
    void runWithoutATicketHasAFolderToo() throws IOException {
        assertThat(home.makeRunFolder("", NOW)).isEqualTo(stick.resolve("runs/no-ticket/20261125T140100Z"));
        assertThat(home.makeRunFolder("  ", NOW).getParent()).isEqualTo(stick.resolve("runs/no-ticket"));
    }

    /** Reserved names and characters: Microsoft, "Naming Files, Paths, and Namespaces". */
    @ParameterizedTest(name = "{0}")
    @CsvSource({
        "FBR-2026-0142, FBR-2026-0142",
        "a/b\\c, a_b_c",
        "../../etc, _._.._etc",
        "a<b>c:d|e?f*g, a_b_c_d_e_f_g",
        "CON, _CON",
        "con, _con",
        "Aux.txt, _Aux.txt",
        "COM1, _COM1",
        "LPT9.log, _LPT9.log",
        "CONSOLE, CONSOLE",
        "COM10, COM10",
        "ends.., ends_",
        ".hidden, _hidden",
        "-rf, _rf",
        "Müller 7, M_ller_7",
        "..., _",
    })
    void ticketBecomesANameThatEveryFileSystemTakes(String ticket, String name) {
        assertThat(home.ticketFolder(ticket)).isEqualTo(stick.resolve("runs").resolve(name));
        assertThat(home.ticketFolder(ticket).normalize().getParent()).isEqualTo(stick.resolve("runs"));
    }

    @Test
    void longTicketIsCut() {
        assertThat(home.ticketFolder("x".repeat(300)).getFileName().toString()).hasSize(64);
        assertThat(home.ticketFolder("x".repeat(63) + "..y").getFileName().toString())
                .isEqualTo("x".repeat(63) + "_");
    }
}
