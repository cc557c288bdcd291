// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.Word;
import java.util.Arrays;
import java.util.List;
import java.util.regex.MatchResult;
import java.util.regex.Pattern;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;
import org.junit.jupiter.params.provider.ValueSource;

/** Holds {@code docs/procedures.md} against the code, so that neither knows a word that the other does not. */
final class ProceduresDocumentTest {
    private static final String DOCUMENT = Shipped.text("docs", "procedures.md");
    private static final Pattern FIRST_CELL = Pattern.compile("(?m)^\\| `([a-z-]+)` \\|");

    @Test
    void eachCriterionHasASectionAndNothingElseHas() {
        assertThat(all(Pattern.compile("(?m)^### `(.+)`$"), DOCUMENT))
                .containsExactlyElementsOf(
                        Arrays.stream(Criterion.values()).map(Word::word).toList());
    }

    @ParameterizedTest
    @EnumSource
    void eachParameterStandsWithItsDefaultAndRangeInTheSectionOfItsCriterion(Criterion criterion) {
        String section = section("### `" + criterion.word() + "`");

        assertThat(all(FIRST_CELL, section))
                .containsExactlyElementsOf(
                        criterion.parameters().stream().map(Parameter::name).toList());
        for (Parameter parameter : criterion.parameters()) {
            Parameter.Quantity quantity = parameter.quantity();
            assertThat(section)
                    .contains("| `" + parameter.name() + "` | " + quantity.write(parameter.defaultValue()) + " | "
                            + quantity.write(parameter.minimum()) + " | " + quantity.write(parameter.maximum()) + " |");
        }
    }

    @Test
    void eachLoadIsExplained() {
        assertThat(all(FIRST_CELL, section("| load |")))
                .containsExactlyElementsOf(
                        Arrays.stream(LoadKind.values()).map(Word::word).toList());
    }

    /** The keys come from the reader's own message about an unknown one. */
    @ParameterizedTest
    @ValueSource(strings = {"the procedure", "a stage", "safety"})
    void eachKeyIsExplained(String where) {
        String unknown =
                switch (where) {
                    case "the procedure" -> "qqqqqqqqqqqq: 1";
                    case "a stage" -> "stages: [{qqqqqqqqqqqq: 1}]";
                    default -> "safety: {qqqqqqqqqqqq: 1}";
                };
        String heading =
                switch (where) {
                    case "the procedure" -> "## Keys";
                    case "a stage" -> "### Stages";
                    default -> "### Safety";
                };
        String message = "";
        try {
            ProcedureReader.read("it", unknown);
        } catch (ProcedureException e) {
            message = e.getMessage();
        }
        List<String> keys = all(Pattern.compile("valid here: (.+) \\(in " + where + "\\)"), message).stream()
                .flatMap(line -> Arrays.stream(line.split(", ", -1)))
                .toList();

        assertThat(keys).isNotEmpty();
        String table = section(heading);
        assertThat(all(FIRST_CELL, table.contains("| load |") ? table.substring(0, table.indexOf("| load |")) : table))
                .containsExactlyInAnyOrderElementsOf(keys);
    }

    @Test
    void theWholeProcedureInTheDocumentCanBeRun() throws ProcedureException {
        String example = all(Pattern.compile("(?s)```yaml\n(.+?)```"), DOCUMENT).get(0);

        assertThat(ProcedureReader.read("docs/procedures.md", example).name()).isEqualTo("half-hour-cpu");
    }

    @Test
    void eachShippedProcedureIsListed() {
        assertThat(Shipped.thresholds()).hasSize(6);
        Shipped.thresholds()
                .forEach(file -> assertThat(DOCUMENT).contains("| `thresholds/" + file.getFileName() + "` |"));
    }

    /** From the line that begins so to the next heading or blank-separated table of another kind. */
    private static String section(String begin) {
        int from = DOCUMENT.indexOf("\n" + begin);
        assertThat(from).as(begin).isNotNegative();
        int to = DOCUMENT.indexOf("\n#", from + 1 + begin.length());
        return DOCUMENT.substring(from, to < 0 ? DOCUMENT.length() : to);
    }

    private static List<String> all(Pattern pattern, String text) {
        return pattern.matcher(text)
                .results()
                .map((MatchResult r) -> r.group(1))
                .toList();
    }
}
