// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Verdict;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Locale;
import java.util.TimeZone;
import java.util.regex.Pattern;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.MethodSource;
import org.junit.jupiter.params.provider.ValueSource;

final class VerdictTextTest {
    private static final Pattern ANSI = Pattern.compile("\u001B\\[[0-9;]*m");

    static Stream<Verdict> all() {
        return Stream.of(
                VerdictExamples.pass(),
                VerdictExamples.fail(),
                VerdictExamples.inconclusive(),
                VerdictExamples.simulatedPass(),
                VerdictExamples.extreme(),
                VerdictExamples.bare());
    }

    @Test
    void theSentenceComesFirstAndTheOutcomeInWordsSecond() {
        List<String> lines =
                VerdictText.render(VerdictExamples.fail(), 80, false).lines().toList();

        assertThat(lines.get(0)).isEqualTo("Died after 22 min, cold and steady: suspect the power path.");
        assertThat(lines.get(2)).isEqualTo("FAIL: the run failed (soak-duration fail, interruptions fail).");
    }

    @Test
    void aVerdictNotMeasuredIsSaidAsInconclusive() {
        assertThat(VerdictText.render(VerdictExamples.bare(), 80, false))
                .contains("\nINCONCLUSIVE: the run neither passed nor failed.\n")
                .doesNotContain("NOT MEASURED");
    }

    @ParameterizedTest
    @ValueSource(ints = {0, 30, 40, 79, 80, 81, 100, 132, 400})
    void noLineIsWiderThanTheTerminal(int width) {
        all().forEach(verdict -> assertThat(
                        VerdictText.render(verdict, width, false).lines())
                .allSatisfy(line -> assertThat(Wrap.columns(line)).isLessThanOrEqualTo(Math.max(width, 30))));
    }

    @ParameterizedTest
    @ValueSource(ints = {30, 60, 80, 120})
    void everyTextOfEveryFindingIsThere(int width) {
        all().forEach(verdict -> {
            String shown = joined(VerdictText.render(verdict, width, false));
            for (Finding finding : verdict.findings()) {
                assertThat(shown).contains(joined(finding.because()), joined(finding.limitOrigin()));
                for (Evidence evidence : finding.evidence()) {
                    assertThat(shown).contains(joined(evidence.place() + "," + evidence.at() + ":" + evidence.text()));
                }
                for (Table table : finding.tables()) {
                    assertThat(shown).contains(joined(table.title()));
                    table.rows().forEach(row -> assertThat(shown).contains(joined(row.get(0)), joined(row.get(1))));
                }
            }
            Stream.of(verdict.notes(), verdict.demonstrated(), verdict.logSha256())
                    .flatMap(List::stream)
                    .forEach(text -> assertThat(shown).contains(joined(text)));
            verdict.attempts().forEach(a -> assertThat(shown).contains(joined(a.runId() + ": " + a.summary())));
        });
    }

    static Stream<String> samples() throws IOException {
        try (Stream<Path> files = Files.walk(Path.of("..", "sample-runs"))) {
            return files.filter(f -> f.endsWith("run.jsonl")).map(Path::toString).sorted().toList().stream();
        }
    }

    /** What a technician sees of a verdict without scrolling: on the smallest terminal in common use, and at the default. */
    @ParameterizedTest(name = "{0}")
    @MethodSource("samples")
    void everySampleRunIsExplainedOnOneScreen(String log) throws IOException {
        Verdict verdict = Judge.judge(Judge.Request.of(Path.of(log))).verdict();
        for (int width : new int[] {80, 100}) {
            List<String> lines =
                    VerdictText.screen(verdict, width, false).lines().toList();
            assertThat(lines).hasSizeLessThanOrEqualTo(24);
            assertThat(lines).allSatisfy(line -> assertThat(Wrap.columns(line)).isLessThanOrEqualTo(width));
            assertThat(joined(String.join("\n", lines))).startsWith(joined(verdict.sentence()));
            assertThat(lines).contains("By how much");
            assertThat(lines.get(lines.size() - 1)).contains("judge --all");
            int sure = lines.indexOf("How sure");
            assertThat(sure == -1 || sure > lines.indexOf("By how much")).isTrue();
        }
    }

    @Test
    void theFirstScreenSaysWhatFailedThenByHowMuchThenHowSureThatIs() throws IOException {
        Verdict verdict = Judge.judge(Judge.Request.of(Path.of("..", "sample-runs", "rails-light", "run.jsonl")))
                .verdict();
        assertThat(VerdictText.screen(verdict, 100, false))
                .startsWith("The discrete GPU drew 122 W, 81.1 % of 150 W")
                .contains("""

                        FAIL: the run failed.
                        SIMULATED: no machine was measured.

                        By how much
                          FAIL power-held (gpu-discrete): 122 W; limit at least 128 W; margin -6 W
                          passed: soak-duration,\
                        """, """

                        How sure
                          power-held (gpu-discrete): 122 W ± 5 W, limit met with a probability of 0.9 %
                        """);
    }

    @Test
    void findingsThatSayTheSameAreToldTogether() throws IOException {
        Verdict verdict = Judge.judge(Judge.Request.of(Path.of("..", "sample-runs", "tampered", "run.jsonl")))
                .verdict();
        assertThat(VerdictText.screen(verdict, 100, false))
                .containsOnlyOnce(Finding.NOT_RELIED_ON)
                .doesNotContain("How sure", "passed:");
    }

    @Test
    void colourOnTheFirstScreenTakesNoColumns() {
        all().forEach(verdict -> assertThat(
                        ANSI.matcher(VerdictText.screen(verdict, 80, true)).replaceAll(""))
                .isEqualTo(VerdictText.screen(verdict, 80, false)));
    }

    @Test
    void theTableHoldsEveryNumberOfARow() {
        assertThat(VerdictText.render(VerdictExamples.inconclusive(), 120, false)
                        .lines())
                .anySatisfy(line -> assertThat(line)
                        .matches("INCONCLUSIVE +clock-held +95\\.2 % +at least 95\\.0 % +0\\.9 % +\\+0\\.2 %"));
    }

    @Test
    void tablesStandInColumnsAndTheirLastOneWraps() {
        assertThat(VerdictText.render(VerdictExamples.fail(), 80, false)).contains("""

                        Interruption, causes
                          Cause         Standing      Evidence
                          power-loss    not excluded  leaves no record
                          kernel-crash  excluded      the store for crash records was there and holds no
                                                      record, or none of a crash

                        Interruption, last minute of the discrete GPU
                          Time     Stage         Power  Temperature
                          -60.0 s  discrete-mix  149 W  71 °C
                        """);
    }

    @Test
    void colourIsOnlyThereWhenAskedForAndSaysNothingNew() {
        all().forEach(verdict -> {
            String plain = VerdictText.render(verdict, 80, false);
            String coloured = VerdictText.render(verdict, 80, true);

            assertThat(plain).doesNotContain("\u001B");
            assertThat(coloured).contains("\u001B[");
            assertThat(ANSI.matcher(coloured).replaceAll("")).isEqualTo(plain);
        });
    }

    @Test
    void textsOfALogCannotCommandTheTerminal() {
        assertThat(VerdictText.render(VerdictExamples.extreme(), 80, false).chars())
                .allMatch(c -> c == '\n' || !Character.isISOControl(c));
    }

    @Test
    void aSimulatedRunIsSaidToBeOne() {
        assertThat(VerdictText.render(VerdictExamples.simulatedPass(), 80, false))
                .contains("SIMULATED");
        assertThat(VerdictText.render(VerdictExamples.pass(), 80, false)).doesNotContain("SIMULATED");
    }

    @ParameterizedTest
    @MethodSource("all")
    void localeAndTimeZoneChangeNothing(Verdict verdict) {
        Locale locale = Locale.getDefault();
        TimeZone zone = TimeZone.getDefault();
        String text = VerdictText.render(verdict, 80, false);
        byte[] json = VerdictJson.write(verdict);
        try {
            Locale.setDefault(Locale.forLanguageTag("ar-EG-u-nu-arab"));
            TimeZone.setDefault(TimeZone.getTimeZone("Pacific/Chatham"));
            assertThat(VerdictText.render(verdict, 80, false)).isEqualTo(text);
            assertThat(VerdictJson.write(verdict)).isEqualTo(json);
        } finally {
            Locale.setDefault(locale);
            TimeZone.setDefault(zone);
        }
    }

    @Test
    void longWordsBreakAfterHyphensAndWideCharactersCountTwice() {
        assertThat(Wrap.lines("temperature-ceiling", 14)).containsExactly("temperature-", "ceiling");
        assertThat(Wrap.lines("電源電源電", 4)).containsExactly("電源", "電源", "電");
        assertThat(Wrap.lines("a bb  ccc", 4)).containsExactly("a bb", "ccc");
        assertThat(Wrap.lines("", 4)).containsExactly("");
    }

    private static String joined(String text) {
        return Wrap.clean(text).replace(" ", "").replace("\n", "");
    }
}
