// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.procedure;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.place.Texts;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.procedure.Procedure;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;

class TermsTest {
    private static final String QUICK = OwnProcedures.text("quick-check");

    private static Terms terms(String ticket, Map<String, String> machine, String text, int stagesDone)
            throws Complaint {
        Attachment attachment = Attachment.of("quick-check.yaml", text);
        Header header = new Header(
                "0".repeat(32),
                Instant.EPOCH,
                ticket,
                "",
                List.of(),
                false,
                Map.of("machine", machine),
                List.of(),
                "test",
                attachment,
                Optional.empty(),
                OptionalDouble.empty(),
                "",
                Duration.ofSeconds(2));
        Procedure procedure = Texts.procedure(attachment);
        return Terms.of(
                header,
                procedure,
                Optional.empty(),
                procedure.stages().subList(stagesDone, procedure.stages().size()));
    }

    private static final Map<String, String> MACHINE = Map.of("make", "Alder Works", "model", "AW-17", "serial", "S-1");

    @Test
    void allThatDecidesAboutTheLoadIsShown() throws Exception {
        String shown =
                String.join("\n", terms("FBR-2026-0142", MACHINE, QUICK, 1).lines());
        assertThat(shown)
                .contains(
                        "FBR-2026-0142",
                        "Alder Works, AW-17, S-1",
                        "quick-check: ",
                        "the same as quick-check that this")
                .contains("cpu above 105 Cel", "battery above 45 Cel", "on-interruption   stop")
                .contains("cpu-soak, 1 min, cpu", "cool-down, 10 s, no load", "in all")
                .doesNotContain("idle,");
    }

    @Test
    void whateverIsEditedGivesAnotherDigest() throws Exception {
        List<String> digests = List.of(
                terms("T-1", MACHINE, QUICK, 1).digest(),
                terms("T-2", MACHINE, QUICK, 1).digest(),
                terms("T-1", Map.of("make", "Other"), QUICK, 1).digest(),
                terms("T-1", MACHINE, QUICK + "# one byte\n", 1).digest(),
                terms("T-1", MACHINE, QUICK.replace("cpu: 105 Cel", "cpu: 109 Cel"), 1)
                        .digest(),
                terms("T-1", MACHINE, QUICK, 2).digest());
        assertThat(digests).doesNotHaveDuplicates().allMatch(d -> d.matches("[0-9a-f]{64}"));
        assertThat(terms("T-1", MACHINE, QUICK, 1).digest()).isEqualTo(digests.get(0));
    }

    @Test
    void aProcedureThatIsNoneOfOursIsCalledSo() throws Exception {
        String shown =
                String.join("\n", terms("T", MACHINE, QUICK + "# edited\n", 0).lines());
        assertThat(shown).contains("NOT one of the procedures").doesNotContain("the same as");
    }

    /** A ticket that turns the letters round, or moves the cursor, could show something else than what is there. */
    @Test
    void nothingInItSteersATerminal() throws Exception {
        String shown = String.join(
                "\n", terms("A\u202eB\u001b[2JC\u0085\u2028", MACHINE, QUICK, 0).lines());
        assertThat(shown).contains("A?B?[2JC??").doesNotContain("\u001b", "\u202e");
    }

    @Test
    void theProceduresInsideTheProgramAreThoseThatItComesWith() throws IOException {
        try (Stream<Path> files = Files.list(Path.of("../thresholds"))) {
            List<Path> all = files.sorted().toList();
            assertThat(all.stream().map(file -> file.getFileName().toString().replace(".yaml", "")))
                    .containsExactlyElementsOf(OwnProcedures.NAMES);
            for (Path file : all) {
                assertThat(OwnProcedures.text(file.getFileName().toString().replace(".yaml", "")))
                        .isEqualTo(Files.readString(file));
            }
        }
    }
}
