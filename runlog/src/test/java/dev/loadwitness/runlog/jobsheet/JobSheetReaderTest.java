// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.jobsheet;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.catchThrowableOfType;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.GraphicsRail;
import dev.loadwitness.runlog.yaml.Problem;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.LocalDate;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;
import org.junit.jupiter.params.provider.ValueSource;

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
        assertThat(sheet.wallMeter()).isEqualTo(new Power.WallMeter(OptionalDouble.of(38), OptionalDouble.of(231)));
        assertThat(sheet.minutesBetweenFaults()).containsExactly(12.0, 25.0);
        assertThat(sheet.rails()).hasSize(3);
        OptionalDouble none = OptionalDouble.empty();
        assertThat(sheet.rails().get(0))
                .isEqualTo(new Rail(
                        "graphics core",
                        Optional.of(Rail.Kind.CONTROLLED),
                        none,
                        none,
                        none,
                        none,
                        "",
                        "loaded",
                        new Rail.Reading(none, OptionalDouble.of(0.08), none),
                        new Rail.Reading(OptionalDouble.of(0.85), OptionalDouble.of(0.4), none),
                        none,
                        new Rail.Reading(OptionalDouble.of(0.86), OptionalDouble.of(0.4), none)));
        assertThat(sheet.rails().get(1).voltsLeast()).hasValue(1.31);
        assertThat(sheet.rails().get(1).voltsMost()).hasValue(1.39);
        assertThat(sheet.rails().get(1).limitsOrigin()).isEqualTo("data sheet of the memory chips");
        assertThat(sheet.rails().get(1).uncertaintyVolts()).hasValue(0.01);
        assertThat(sheet.rails().get(2).kind()).hasValue(Rail.Kind.FIXED);
        assertThat(sheet.rails().get(2).nominalVolts()).hasValue(5);
        assertThat(sheet.rails().get(2).ohmsBefore()).isEmpty();
        assertThat(sheet.rails().get(2).after())
                .isEqualTo(new Rail.Reading(OptionalDouble.of(5.05), OptionalDouble.of(1800), OptionalDouble.of(0.42)));
        assertThat(sheet.handChecks())
                .contains(new JobSheet.HandCheck(
                        "hinges, lid and screws", JobSheet.HandCheck.State.OPEN, "one bottom screw missing on arrival"))
                .contains(new JobSheet.HandCheck(
                        "network socket", JobSheet.HandCheck.State.NOT_APPLICABLE, "this model has none"))
                .filteredOn(JobSheet.HandCheck::done)
                .hasSize(8);
        assertThat(sheet.issuer().authorisedBy()).isEqualTo("M. Okonjo-Vale");
        assertThat(sheet.issuer().warranty()).startsWith("Ninety days");
        assertThat(sheet.issuer().earlierReport()).isEmpty();
        assertThat(sheet.intake().customerReference()).isEqualTo("PO 5520");
        assertThat(sheet.intake().condition()).startsWith("Case scratched");
        assertThat(sheet.repair().findings()).hasSize(2);
        assertThat(sheet.repair().partsReplaced()).hasSize(2);
        assertThat(sheet.repair().knownFaults()).hasSize(1);
        assertThat(sheet.power().ratingOrigin()).startsWith("the maker's data sheet");
        assertThat(sheet.power().adapter())
                .isEqualTo(new Power.Adapter(
                        OptionalDouble.of(240),
                        "Alder Works AW-A240, 20 V 12 A",
                        Optional.of(true),
                        Optional.of(Power.Owner.CUSTOMER)));
        assertThat(sheet.power().battery().whose()).hasValue(Power.Owner.CUSTOMER);
        assertThat(sheet.power().battery().label()).isEqualTo("AW-B90, 90 Wh");
        assertThat(sheet.bench().ambientCelsius()).hasValue(22.5);
        assertThat(sheet.bench().ambientHow()).startsWith("thermometer T1");
        assertThat(sheet.bench().instruments().get(0).calibration()).contains("no certificate");
        assertThat(sheet.closing().seal()).isEqualTo("004711");
        assertThat(sheet.closing().closedSinceTest()).hasValue(true);
        assertThat(sheet.closing().photos()).singleElement().satisfies(photo -> {
            assertThat(photo.file()).isEqualTo("PU3-before.jpg");
            assertThat(photo.sha256()).hasSize(64).startsWith("5a0b6b");
        });
        assertThat(sheet.sha256()).isEqualTo(Attachment.of("", example()).sha256());
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
                "'rails: [{name: a, kind: fixd}]'        | 3:25 | did you mean 'fixed'?",
                "'rails: [{name: a, voltage-afer: 1 V}]' | 3:19 | did you mean 'voltage-after'?",
                "'rails: [{name: a, tolerance: 5 %}]'    | 3:19 | a tolerance of what?",
                "'rails: [{name: a, nominal: 5 V, tolerance: 5 %, most: 6 V}]' | 3:33 | keep one of the two",
                "'rails: [{name: a, least: 6 V, most: 5 V}]' | 3:19 | least is above most",
                "'rails: [{name: a, known-good: {voltge: 1 V}}]' | 3:32 | did you mean 'voltage'?",
                "adapter: {recognized: yes}              | 3:11 | did you mean 'recognised'?",
                "adapter: {whose: shop}                  | 3:18 | unknown whose 'shop'; valid here: customer, bench",
                "'hand-checks: [{name: a, done: yes, not-applicable: x}]' | 3:36 | keep one of the two",
                "'photos: [{file: ../../etc/passwd}]'    | 3:17 | a name without a folder",
                "'photos: [{file: /etc/passwd}]'         | 3:17 | a name without a folder",
                "'photos: [{file: a.jpg, sha256: 12}]'   | 3:32 | is 64 hexadecimal digits",
                "closed-since-test: maybe                | 3:20 | write yes or no",
                "ambient: {temperature: 22.5}            | 3:24 | has no unit (Cel)",
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

    @ParameterizedTest
    @CsvSource(
            delimiter = '|',
            value = {
                "done: yes                 | DONE",
                "done: no                  | OPEN",
                "done:                     | OPEN",
                "failed: yes               | FAILED",
                "done: yes, failed: yes    | FAILED",
                "done: yes, failed: no     | DONE",
                "not-applicable: none here | NOT_APPLICABLE"
            })
    void aHandCheckIsOpenUntilItSaysOtherwise(String keys, JobSheet.HandCheck.State state) throws JobSheetException {
        assertThat(JobSheetReader.read("s.yaml", HEAD + "hand-checks: [{name: fans, " + keys + "}]")
                        .handChecks())
                .extracting(JobSheet.HandCheck::state)
                .containsExactly(state);
    }

    /** What a terminal would obey, what turns writing round, and what prints as nothing. */
    @ParameterizedTest
    @ValueSource(
            strings = {
                "\\e[2J", // escape: clears the screen
                "\\e]0;title\\a", // escape and bell: renames the window
                "\\x9b31m", // the eight-bit form of escape and bracket
                "\\u202e", // right-to-left override
                "\\u2066", // isolate
                "\\u200b", // zero width space
                "\\u0007",
                "\\u2028",
                "\\uFEFF",
                "\\U000E0041" // tag, invisible
            })
    void textThatWouldSteerATerminalIsRefusedWithItsPlace(String hostile) {
        for (String key : List.of("shop", "reported-fault", "seal", "warranty", "rated-power-origin")) {
            JobSheetException thrown = refused(HEAD + key + ": \"a" + hostile + "b\"");

            assertThat(thrown.problems()).hasSize(1);
            assertThat(thrown).hasMessageContaining("s.yaml line 3").hasMessageContaining("control character");
            assertThat(thrown.getMessage()
                            .codePoints()
                            .allMatch(c -> Character.getType(c) != Character.FORMAT
                                    && (c == '\n' || !Character.isISOControl(c))))
                    .isTrue();
        }
    }

    @Test
    void aTextThatIsTooLongIsRefusedWithItsLengthAndTheMostThatIsKept() throws JobSheetException {
        assertThat(JobSheetReader.read("s.yaml", HEAD + "reported-fault: " + "x".repeat(2000))
                        .reportedFault())
                .hasSize(2000);
        assertThat(refused(HEAD + "reported-fault: " + "x".repeat(2001)))
                .hasMessageContaining("reported-fault has 2001 characters; at most 2000 are kept");
        assertThat(refused(HEAD + "seal: " + "x".repeat(101))).hasMessageContaining("at most 100 are kept");
    }

    @Test
    void aSheetWrittenForAnEarlierVersionIsStillRead() throws JobSheetException {
        JobSheet sheet = JobSheetReader.read("s.yaml", HEAD + """
                rails:
                  - name: graphics core
                    resistance-before: 80 mOhm
                    resistance-after: 0.4 Ohm
                    voltage-after: 0.85 V
                    state: under load
                hand-checks:
                  - name: wireless
                    done: no
                """);

        assertThat(sheet.rails())
                .containsExactly(Rail.of(
                        "graphics core",
                        OptionalDouble.of(0.08),
                        OptionalDouble.of(0.4),
                        OptionalDouble.of(0.85),
                        "under load"));
        assertThat(sheet.handChecks())
                .containsExactly(new JobSheet.HandCheck("wireless", JobSheet.HandCheck.State.OPEN, ""));
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
