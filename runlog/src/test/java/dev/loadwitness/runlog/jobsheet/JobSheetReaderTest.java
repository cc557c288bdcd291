// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.catchThrowableOfType;

import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.GraphicsRail;
import dev.loadwitness.runlog.yaml.Problem;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.LocalDate;
import java.util.Map;
import java.util.OptionalDouble;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

final class JobSheetReaderTest {
    private static final String HEAD = "format: loadwitness-job-sheet/1\nticket: FBR-2026-0142\n";

    @Test
    void exampleInTheDocumentsIsReadWithEveryValue() throws Exception {
        JobSheet sheet = JobSheetReader.read("job-sheet.yaml", example());

        assertThat(sheet.ticket()).isEqualTo("FBR-2026-0142");
        assertThat(sheet.shop()).isEqualTo("Fernhollow Board Repair");
        assertThat(sheet.technician()).isEqualTo("M. Okonjo-Vale");
        assertThat(sheet.customer()).isEqualTo("1187");
        assertThat(sheet.received()).hasValue(LocalDate.of(2026, 11, 18));
        assertThat(sheet.machine()).isEqualTo(new JobSheet.Machine("Alder Works", "AW-17 Kestrel", "AWK17-004711"));
        assertThat(sheet.reportedFault()).startsWith("Shuts off").endsWith("when it happens.");
        assertThat(sheet.workDone()).hasSize(3);
        assertThat(sheet.repairedRail()).isEqualTo("graphics core");
        assertThat(GraphicsRail.named(sheet.repairedRail())).containsExactly(GraphicsRail.GRAPHICS_CORE);
        assertThat(sheet.ratedGraphicsWatts()).hasValue(150);
        assertThat(sheet.adapterWatts()).hasValue(240);
        assertThat(sheet.wallMeter()).isEqualTo(new JobSheet.WallMeter(OptionalDouble.of(38), OptionalDouble.of(231)));
        assertThat(sheet.minutesBetweenFaults()).containsExactly(12.0, 25.0);
        assertThat(sheet.rails()).hasSize(3);
        assertThat(sheet.rails().get(0))
                .isEqualTo(JobSheet.Rail.of(
                        "graphics core",
                        OptionalDouble.of(0.08),
                        OptionalDouble.of(0.4),
                        OptionalDouble.of(0.85),
                        "loaded"));
        assertThat(sheet.rails().get(2).ohmsBefore()).isEmpty();
        assertThat(sheet.rails().get(2).ohmsAfter()).hasValue(1800);
        assertThat(sheet.handChecks())
                .contains(new JobSheet.HandCheck(
                        "hinges, lid and screws", JobSheet.HandCheck.State.OPEN, "one bottom screw missing on arrival"))
                .extracting(JobSheet.HandCheck::done)
                .containsExactly(true, true, false);
        assertThat(sheet.notApplicable()).isEmpty();
    }

    @Test
    void aRepairedRailThatNoProcedureKnowsIsKeptAsItWasWritten() throws JobSheetException {
        String free = "the one beside the connector, see photograph 4";

        assertThat(JobSheetReader.read("s.yaml", HEAD + "repaired-rail: " + free + "\n")
                        .repairedRail())
                .isEqualTo(free);
    }

    @Test
    void onlyTheTicketMustBeKnown() throws JobSheetException {
        assertThat(JobSheetReader.read("s.yaml", HEAD).readFrom("")).isEqualTo(JobSheet.empty("FBR-2026-0142"));
    }

    @Test
    void aSheetWithAllKeysLeftEmptyIsAnEmptySheet() throws Exception {
        String emptied = HEAD
                + example()
                        .lines()
                        .filter(line -> line.matches("[a-z-]+:.*"))
                        .map(line -> line.replaceFirst(":.*", ":"))
                        .filter(line -> !line.equals("format:") && !line.equals("ticket:"))
                        .reduce("", (a, b) -> a + b + "\n");

        assertThat(emptied).contains("machine:\n", "rails:\n", "received:\n");
        assertThat(JobSheetReader.read("s.yaml", emptied).readFrom("")).isEqualTo(JobSheet.empty("FBR-2026-0142"));
    }

    @Test
    void criterionThatDoesNotApplyComesWithItsReason() throws JobSheetException {
        assertThat(JobSheetReader.read("s.yaml", HEAD + "not-applicable:\n  throttle: no such channel")
                        .notApplicable())
                .containsExactly(Map.entry(Criterion.THROTTLE, "no such channel"));
    }

    @ParameterizedTest
    @CsvSource(
            delimiter = '|',
            value = {
                "tecnician: x                            | 3:1  | did you mean 'technician'?",
                "machine: {maker: x}                     | 3:11 | did you mean 'make'?",
                "machine: Kestrel                        | 3:10 | machine holds keys",
                "received: 18.11.2026                    | 3:11 | write year-month-day, for example 2026-11-20",
                "received: 2026-02-30                    | 3:11 | write year-month-day",
                "rated-graphics-power: 150               | 3:23 | has no unit (W); write for example 150 W",
                "rated-graphics-power: 0 W               | 3:23 | write a value from 1 W to 2000 W",
                "adapter-power: 240 VA                   | 3:16 | 'VA' is not a unit here",
                "time-between-faults: 12 min             | 3:22 | is a list; write for example [12 min, 25 min]",
                "time-between-faults: [12]               | 3:23 | has no unit (h, min, s, ms)",
                "work-done: new paste                    | 3:12 | is a list",
                "'rails: [{name: a, resistance-before: 1 Om}]' | 3:38 | did you mean 'Ohm'?",
                "'rails: [{state: idle}]'                | 3:9  | a rail lacks 'name'",
                "'hand-checks: [{name: a, done: ok}]'    | 3:31 | write yes or no",
                "not-applicable: {trottle: x}            | 3:18 | did you mean 'throttle'?",
                "not-applicable: {throttle: }            | 3:27 | 'throttle' has no value",
                "ticket: again                           | 3:1  | 'ticket' is given a second time"
            })
    void eachMistakeIsNamedOnceWithItsPlaceAndWhatToDo(String line, String at, String said) {
        JobSheetException thrown = refused(HEAD + line);

        assertThat(thrown.problems()).as("%s", thrown.problems()).hasSize(1);
        Problem problem = thrown.problems().get(0);
        assertThat(problem.text()).contains(said);
        assertThat(problem.line() + ":" + problem.column()).isEqualTo(at);
        assertThat(thrown).hasMessageStartingWith("s.yaml line 3, column ");
    }

    @Test
    void sheetWithoutTicketIsRefused() {
        assertThat(refused("format: loadwitness-job-sheet/1\nticket:\n"))
                .hasMessage(
                        "s.yaml line 2, column 8: 'ticket' has no value (in the job sheet); write for example ticket:"
                                + " FBR-2026-0142");
    }

    @Test
    void procedureIsNotTakenForAJobSheet() {
        assertThat(refused("format: loadwitness-procedure/1\nticket: a").problems())
                .extracting(Problem::text)
                .singleElement()
                .asString()
                .contains("this version reads loadwitness-job-sheet/1");
    }

    private static String example() throws IOException {
        return Files.readString(Path.of("..", "docs", "examples", "job-sheet.yaml"));
    }

    private static JobSheetException refused(String yaml) {
        JobSheetException thrown =
                catchThrowableOfType(JobSheetException.class, () -> JobSheetReader.read("s.yaml", yaml));
        assertThat(thrown).as("this must not be read:%n%s", yaml).isNotNull();
        return thrown;
    }
}
