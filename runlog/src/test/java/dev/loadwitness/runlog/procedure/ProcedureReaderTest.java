// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.catchThrowableOfType;

import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.yaml.Problem;
import java.time.Duration;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.Arguments;
import org.junit.jupiter.params.provider.MethodSource;

final class ProcedureReaderTest {
    /** Free of faults; each test breaks it in one place. */
    private static final String GOOD = """
            format: loadwitness-procedure/1
            name: bench
            title: A good one
            sampling: 500 ms
            absent: [battery]
            stages:
              - id: soak
                loads: [cpu, gpu-mix]
                gpu: gpu-discrete
                proves: gpu-discrete
                duration: 1 h
              - id: memory
                loads: [memory]
                memory-share: 25 %
                duration: 90 s
            safety:
              stop-above:
                cpu: 100 Cel
                gpu-discrete: 92.5 Cel
              silent-after: 5 s
              adapter-lost: go-on
              unguarded: refuse
            decision: {rule: guarded, guard-factor: 0.83}
            criteria:
              soak-duration: {mandatory: yes, at-least: 60 min}
              memory-errors: {mandatory: yes}
              throttle: {mandatory: no, at-most: 2, at-most-time: 1.5 s}
              evidence: {mandatory: yes}
            """;

    @Test
    void aRunThatBrokeOffStopsUnlessTheProcedureSaysToGoOn() throws ProcedureException {
        assertThat(ProcedureReader.read("bench.yaml", GOOD).onInterruption()).isEqualTo(OnInterruption.STOP);
        assertThat(ProcedureReader.read("bench.yaml", GOOD + "on-interruption: stop\n")
                        .onInterruption())
                .isEqualTo(OnInterruption.STOP);
        Procedure goesOn = ProcedureReader.read("bench.yaml", GOOD + "on-interruption: go-on\n");
        assertThat(goesOn.onInterruption()).isEqualTo(OnInterruption.GO_ON);
        assertThat(goesOn.withStages(goesOn.stages()).onInterruption()).isEqualTo(OnInterruption.GO_ON);
    }

    @Test
    void anotherWordAfterAnInterruptionIsAMistake() {
        ProcedureException mistake = catchThrowableOfType(
                ProcedureException.class,
                () -> ProcedureReader.read("bench.yaml", GOOD + "on-interruption: continue\n"));
        assertThat(mistake).hasMessageContaining("on-interruption is 'continue'; write go-on or stop");
    }

    @Test
    void everyKeyReachesTheProcedureInTheUnitThatJavaHolds() throws ProcedureException {
        Procedure read = ProcedureReader.read("bench.yaml", GOOD);

        assertThat(read.name()).isEqualTo("bench");
        assertThat(read.title()).isEqualTo("A good one");
        assertThat(read.samplingPeriod()).isEqualTo(Duration.ofMillis(500));
        assertThat(read.absent()).containsExactly(Role.BATTERY);
        assertThat(read.stages())
                .containsExactly(
                        new Stage(
                                "soak",
                                List.of(LoadKind.CPU, LoadKind.GPU_MIX),
                                Optional.of(Role.GPU_DISCRETE),
                                Optional.of(Role.GPU_DISCRETE),
                                Duration.ofHours(1),
                                0),
                        new Stage(
                                "memory",
                                List.of(LoadKind.MEMORY),
                                Optional.empty(),
                                Optional.empty(),
                                Duration.ofSeconds(90),
                                0.25));
        assertThat(read.safety())
                .isEqualTo(new Safety(
                        Map.of(Role.CPU, 100.0, Role.GPU_DISCRETE, 92.5), Duration.ofSeconds(5), false, false));
        assertThat(read.decision()).isEqualTo(new DecisionRule(0.83));
        CriterionSetting throttle = read.setting(Criterion.THROTTLE).orElseThrow();
        assertThat(throttle.mandatory()).isFalse();
        assertThat(throttle.count(Parameters.Throttle.AT_MOST)).isEqualTo(2);
        assertThat(throttle.seconds(Parameters.Throttle.AT_MOST_TIME)).isEqualTo(1.5);
    }

    @Test
    void aStageThatIsToBeRepeatedBecomesSoManyWithNumberedIds() throws ProcedureException {
        Procedure read = ProcedureReader.read(
                "bench.yaml", GOOD.replace("duration: 1 h", "duration: 1 h\n    asks: sleep\n    times: 2"));

        assertThat(read.stages().stream().map(Stage::id)).containsExactly("soak-1", "soak-2", "memory");
        assertThat(read.stages().subList(0, 2)).allMatch(s -> s.asks().equals(Optional.of(Ask.SLEEP)));
        assertThat(read.longestStretch(Role.GPU_DISCRETE)).isEqualTo(Duration.ofHours(1));
    }

    static Stream<Arguments> mistakes() {
        return Stream.of(
                // what stands in the good file, what stands there instead, where the fault is, what must be said
                mistake("duration: 1 h", "duratoin: 1 h", 11, 5, "unknown key 'duratoin'; did you mean 'duration'?"),
                mistake(
                        "proves: gpu-discrete",
                        "proves: gpu-discrete\n    if-present: yes",
                        11,
                        5,
                        "the stage proves gpu-discrete and may be left out"),
                mistake(
                        "loads: [memory]",
                        "loads: [memory]\n    if-present: yes",
                        14,
                        5,
                        "if-present is about the GPU of a stage"),
                longer("{graphic-core: 2 h}", 19, "unknown key 'graphic-core'; did you mean 'graphics-core'?"),
                longer("{graphics-core: 60 min}", 19, "this is not longer than the stage's duration"),
                longer("{graphics-core: 90}", 34, "has no unit (h, min, s, ms)"),
                longer("{graphics-core: 169 h}", 34, "write a value from 1 s to 168 h"),
                longer("2 h", 18, "if-repaired holds keys"),
                longer("", 17, "'if-repaired' has no value"),
                mistake(
                        "duration: 90 s",
                        "duration: 90 s\n    if-repaired: {graphics-memory: 2 min}",
                        16,
                        5,
                        "if-repaired is about the rails of a stage's GPU"),
                mistake(
                        "duration: 90 s",
                        "duration: 90 s\n    asks: sleep",
                        16,
                        5,
                        "asks for something by hand but proves"),
                mistake("duration: 1 h", "duration: 1 h\n    asks: slep", 12, 11, "did you mean 'sleep'?"),
                mistake("duration: 1 h", "duration: 1 h\n    times: 1", 12, 12, "times"),
                mistake(
                        "loads: [memory]",
                        "loads: [memory]\n    proves: memory\n    asks: cool-down",
                        15,
                        5,
                        "memory has no temperature"),
                mistake(
                        "memory-errors: {mandatory: yes}",
                        "cold-starts: {mandatory: yes, boots: 0, replugs: 0}",
                        26,
                        3,
                        "cold-starts needs 3 sleeps but 0 stages have 'asks: sleep'"),
                mistake(
                        "memory-errors: {mandatory: yes}",
                        "cold-starts: {mandatory: no, boots: 0, sleeps: 0, replugs: 0}",
                        26,
                        3,
                        "cold-starts counts nothing"),
                mistake(
                        "memory-errors: {mandatory: yes}",
                        "repeat-soak: {mandatory: yes}",
                        26,
                        3,
                        "no stage with 'asks: cool-down' repeats"),
                mistake("sampling:", "samplings:", 4, 1, "did you mean 'sampling'?"),
                mistake("stop-above:", "stop_above:", 17, 3, "did you mean 'stop-above'?"),
                mistake("sampling: 500 ms", "colour: red\nsampling: 1 s", 4, 1, "valid here: format, name, title"),
                mistake("at-least: 60", "atleast: 60", 25, 35, "did you mean 'at-least'?"),
                mistake("memory-errors:", "memroy-errors:", 26, 3, "did you mean 'memory-errors'?"),
                mistake("[cpu, gpu-mix]", "[cpu, gpu-mxi]", 8, 18, "unknown load 'gpu-mxi'; did you mean 'gpu-mix'?"),
                mistake("gpu: gpu-discrete", "gpu: gpu-discreet", 9, 10, "did you mean 'gpu-discrete'?"),
                mistake("proves: gpu-discrete", "proves: fan", 10, 13, "valid here: cpu, memory, gpu-discrete"),
                mistake("[battery]", "[batery]", 5, 10, "did you mean 'battery'?"),
                mistake("cpu: 100 Cel", "cpus: 100 Cel", 18, 5, "did you mean 'cpu'?"),
                mistake(
                        "    duration: 1 h\n",
                        "",
                        7,
                        5,
                        "a stage lacks 'duration'; write for example duration: 60 min"),
                mistake("title: A good one\n", "", 1, 1, "the procedure lacks 'title'"),
                mistake("title: A good one", "title:", 3, 7, "'title' has no value"),
                mistake("title: A good one", "title: a\ntitle: b", 4, 1, "'title' is given a second time"),
                mistake("duration: 1 h", "duration: 60 minutes", 11, 15, "'minutes' is not a unit here"),
                mistake("duration: 1 h", "duration: 60 Min", 11, 15, "did you mean 'min'?"),
                mistake(
                        "duration: 1 h",
                        "duration: 3600",
                        11,
                        15,
                        "has no unit (h, min, s, ms); write for example 90 s"),
                mistake("duration: 1 h", "duration: 0,5 h", 11, 15, "a comma where a point belongs"),
                mistake("duration: 1 h", "duration: long", 11, 15, "not a number with a unit; write for example 90 s"),
                mistake("duration: 1 h", "duration: [1 h]", 11, 15, "is one value, not a list"),
                mistake("duration: 1 h", "duration: 200 h", 11, 15, "write a value from 1 s to 168 h"),
                mistake("25 %", "0.25", 14, 19, "write for example 85 %"),
                mistake("25 %", "95 %", 14, 19, "write a value from 1 % to 90 %"),
                mistake("92.5 Cel", "92.5 C", 19, 19, "'C' is not a unit here (Cel is); write for example 87 Cel"),
                mistake("92.5 Cel", "92.5 °C", 19, 19, "write for example 87 Cel"),
                mistake("92.5 Cel", "300 Cel", 19, 19, "write a value from 30 Cel to 125 Cel"),
                mistake("at-most: 2", "at-most: 1.5", 27, 38, "not a whole number"),
                mistake("at-most: 2", "at-most: 2 K", 27, 38, "a plain number without a unit"),
                mistake("at-most: 2", "at-most: -1", 27, 38, "out of range"),
                mistake("at-most: 2", "at-most: .nan", 27, 38, "not a number"),
                mistake("at-least: 60 min", "at-least: 0 s", 25, 45, "write a value from 1 s to 168 h"),
                mistake("500 ms", "99 ms", 4, 11, "write a value from 100 ms to 10 s"),
                mistake("500 ms", "11 s", 4, 11, "write a value from 100 ms to 10 s"),
                mistake("silent-after: 5 s", "silent-after: 61 s", 20, 17, "write a value from 1 s to 1 min"),
                mistake("500 ms", "3 s", 20, 3, "silent-after is shorter than two sampling periods"),
                mistake("mandatory: yes, at-least", "mandatory: true, at-least", 25, 30, "write yes or no"),
                mistake("go-on", "ignore", 21, 17, "write stop or go-on"),
                mistake("unguarded: refuse", "unguarded: no", 22, 14, "write allow or refuse"),
                mistake("rule: guarded", "rule: gaurded", 23, 18, "write guarded or simple"),
                mistake("rule: guarded", "rule: simple", 23, 26, "guard-factor belongs to rule 'guarded' only"),
                mistake("0.83", "4", 23, 41, "write a value from 0.1 to 3"),
                mistake("procedure/1", "procedure/2", 1, 1, "this version reads loadwitness-procedure/1"),
                mistake("name: bench", "name: ../bench", 2, 7, "use lower-case letters, digits and hyphens"),
                mistake("- id: memory", "- id: soak", 12, 5, "a second stage is called 'soak', the first in line 7"),
                mistake("proves: gpu-discrete", "proves: memory", 10, 5, "proves memory but puts no load on it"),
                mistake("    gpu: gpu-discrete\n", "", 7, 5, "lacks 'gpu'"),
                mistake("[memory]", "[cpu]", 14, 5, "the stage has no memory load"),
                mistake("    memory-share: 25 %\n", "", 12, 5, "lacks 'memory-share'"),
                mistake("[memory]", "[memory, memory]", 13, 21, "'memory' is given a second time"),
                mistake("[cpu, gpu-mix]", "[gpu-core, gpu-mix]", 8, 5, "one GPU load at a time"),
                mistake("[cpu, gpu-mix]", "cpu", 8, 12, "is a list; write for example [cpu, memory]"),
                mistake("[battery]", "[gpu-discrete]", 9, 5, "which 'absent' says must not be there"),
                mistake("    gpu-discrete: 92.5 Cel\n", "", 8, 5, "safety stop-above has no ceiling for it"),
                mistake("at-least: 60 min", "at-least: 61 min", 25, 3, "needs 61 min on gpu-discrete without a break"),
                mistake(
                        "throttle: {mandatory: no, at-most: 2, at-most-time: 1.5 s}",
                        "clock-held: {mandatory: yes, window: 31 min}",
                        27,
                        3,
                        "needs 62 min on gpu-discrete"),
                mistake(
                        "    proves: gpu-discrete\n",
                        "",
                        24,
                        3,
                        "soak-duration is mandatory but no stage proves a part"),
                mistake(
                        "  - id: memory\n    loads: [memory]\n    memory-share: 25 %\n    duration: 90 s\n",
                        "", 22, 3, "memory-errors is mandatory but no stage loads memory"),
                mistake(
                        "throttle: {mandatory: no, at-most: 2, at-most-time: 1.5 s}",
                        "throttle: yes",
                        27,
                        13,
                        "throttle holds keys"),
                mistake(
                        "evidence: {mandatory: yes}",
                        "evidence: {mandatory: no}",
                        28,
                        3,
                        "evidence must be mandatory"));
    }

    private static Arguments longer(String ifRepaired, int column, String said) {
        return mistake("duration: 1 h", "duration: 1 h\n    if-repaired: " + ifRepaired, 12, column, said);
    }

    private static Arguments mistake(String good, String bad, int line, int column, String said) {
        return Arguments.of(good, bad, line, column, said);
    }

    @ParameterizedTest(name = "{1} instead of {0}")
    @MethodSource("mistakes")
    void eachMistakeIsNamedOnceWithItsPlaceAndWhatToDo(String good, String bad, int line, int column, String said) {
        assertThat(GOOD).contains(good);

        Problem only = only(GOOD.replace(good, bad));

        assertThat(only.text()).contains(said);
        assertThat(only.line() + ":" + only.column()).isEqualTo(line + ":" + column);
    }

    @Test
    void allMistakesComeAtOnceInTheOrderOfTheFile() {
        String bad = GOOD.replace("500 ms", "1 ms")
                .replace("gpu-mix", "gpu-mox")
                .replace("25 %", "25")
                .replace("silent-after", "silence")
                .replace("throttle", "throtle");

        ProcedureException thrown = refused(bad);

        assertThat(thrown.problems())
                .extracting(Problem::line)
                .containsExactly(4, 8, 14, 17, 20, 27)
                .isNotEmpty();
    }

    @Test
    void messageIsOneLineForEachProblemAndBeginsWithFileLineAndColumn() {
        ProcedureException thrown = refused(GOOD.replace("500 ms", "1 ms").replace("25 %", "25"));

        assertThat(thrown)
                .hasMessageMatching(
                        "(?s)bench.yaml line 4, column 11: sampling is .*\nbench.yaml line 14, column 19: memory-share is .*");
    }

    @Test
    void procedureWithoutAnyStageIsRefused() {
        String none = GOOD.replaceAll("(?s)stages:.*safety:", "stages: []\nsafety:");

        assertThat(only(none).text()).contains("stages holds no stage");
    }

    @Test
    void powerLimitCannotBeJudgedWhereOnlyMemoryIsProved() {
        String memoryOnly = GOOD.replace("    proves: gpu-discrete\n", "")
                .replace("    memory-share:", "    proves: memory\n    memory-share:")
                .replace("at-least: 60 min", "at-least: 90 s")
                .replace("throttle: {mandatory: no", "throttle: {mandatory: yes");

        assertThat(only(memoryOnly).text()).contains("throttle is mandatory but no stage proves a part");
    }

    @Test
    void consecutiveStagesThatProveTheSamePartMakeOneStretch() throws ProcedureException {
        String halves = GOOD.replace("    duration: 1 h\n", """
                ....duration: 30 min
                ..- {id: two, loads: [gpu-core], gpu: gpu-discrete, proves: gpu-discrete, duration: 30 min}
                """.replace('.', ' '));
        String apart = halves.replace("  - {id: two", "  - {id: pause, duration: 1 s}\n  - {id: two");

        assertThat(ProcedureReader.read("bench.yaml", halves).longestStretch(Role.GPU_DISCRETE))
                .isEqualTo(Duration.ofHours(1));
        assertThat(only(apart).text()).contains("make at most 30 min");
    }

    @Test
    void aRepairedRailTakesTheTimeThatItsStageGivesItAndTheLongerOfTwo() throws ProcedureException {
        Procedure written = ProcedureReader.read(
                "bench.yaml",
                GOOD.replace(
                        "duration: 1 h",
                        "duration: 1 h\n    if-repaired: {graphics-core: 2 h, graphics-memory: 90 min}"));

        assertThat(written.duration()).isEqualTo(Duration.ofMinutes(60).plusSeconds(90));
        assertThat(written.railsWithAShare()).containsExactly(GraphicsRail.GRAPHICS_CORE, GraphicsRail.GRAPHICS_MEMORY);
        assertThat(soakMinutes(written, "")).isEqualTo(60);
        assertThat(soakMinutes(written, "main 5 V")).isEqualTo(60);
        assertThat(soakMinutes(written, "graphics core")).isEqualTo(120);
        assertThat(soakMinutes(written, "graphics-memory")).isEqualTo(90);
        assertThat(soakMinutes(written, "graphics memory and graphics core")).isEqualTo(120);
        assertThat(written.forRail("").stages().get(0).isLengthened()).isFalse();
        assertThat(written.forRail("graphics core").stages().get(0).isLengthened())
                .isTrue();
        assertThat(written.forRail("graphics core").forRail("graphics core"))
                .as("asked twice, by agent and reporter or by a second boot")
                .isEqualTo(written.forRail("graphics core"));
    }

    private static long soakMinutes(Procedure written, String rail) {
        return written.forRail(rail).stages().get(0).duration().toMinutes();
    }

    @Test
    void nothingDependsOnTheMachinesLanguage() throws ProcedureException {
        Procedure root = ProcedureReader.read("bench.yaml", GOOD);
        Locale before = Locale.getDefault();
        try {
            for (String language : List.of("tr-TR", "de-DE", "ar-EG-u-nu-arab")) {
                Locale.setDefault(Locale.forLanguageTag(language));
                assertThat(ProcedureReader.read("bench.yaml", GOOD)).isEqualTo(root);
                assertThat(refused(GOOD.replace("TITLE", "title").replace("25 %", "95 %")))
                        .hasMessageContaining("from 1 % to 90 %");
            }
        } finally {
            Locale.setDefault(before);
        }
    }

    @Test
    void windowsLineEndsAndByteOrderMarkChangeNothing() throws ProcedureException {
        assertThat(ProcedureReader.read("bench.yaml", "\uFEFF" + GOOD.replace("\n", "\r\n")))
                .isEqualTo(ProcedureReader.read("bench.yaml", GOOD));
    }

    @Test
    void aFileFullOfMistakesIsCutShortAfterFifty() {
        String many = "zz: 1\n".repeat(5000);

        List<Problem> problems = refused(many).problems();

        assertThat(problems).hasSize(51);
        assertThat(problems.get(50).text()).contains("not listed");
    }

    private static Problem only(String yaml) {
        List<Problem> problems = refused(yaml).problems();
        assertThat(problems).as("%s", problems).hasSize(1);
        return problems.get(0);
    }

    private static ProcedureException refused(String yaml) {
        ProcedureException thrown =
                catchThrowableOfType(ProcedureException.class, () -> ProcedureReader.read("bench.yaml", yaml));
        assertThat(thrown).as("this must not be read:%n%s", yaml).isNotNull();
        return thrown;
    }
}
