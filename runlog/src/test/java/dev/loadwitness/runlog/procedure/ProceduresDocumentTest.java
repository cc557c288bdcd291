// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.yaml.Measure;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.regex.MatchResult;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import java.util.stream.Collectors;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;
import org.junit.jupiter.params.provider.ValueSource;

/** Holds {@code docs/procedures.md} against the code, so that neither knows a word that the other does not. */
final class ProceduresDocumentTest {
    private static final Pattern TABLE = Pattern.compile("(?m)(^\\| .*\n)+");
    private static final String DOCUMENT = document();
    private static final Pattern FIRST_CELL = Pattern.compile("(?m)^\\| `([a-z-]+)` \\|");

    @Test
    void eachCriterionHasASectionAndNothingElseHas() {
        assertThat(all(Pattern.compile("(?m)^### `(.+)`$"), DOCUMENT))
                .containsExactlyElementsOf(
                        Arrays.stream(Criterion.values()).map(Word::word).toList());
    }

    @ParameterizedTest
    @EnumSource
    void eachCriterionsTableIsWhatItsDescriptionGives(Criterion criterion) {
        String section = section(DOCUMENT, "### `" + criterion.word() + "`");

        assertThat(all(Pattern.compile("(?m)^(\\| .*)$"), section)).containsExactlyElementsOf(table(criterion));
    }

    private static List<String> table(Criterion criterion) {
        if (criterion.parameters().isEmpty()) {
            return List.of();
        }
        return Stream.concat(
                        Stream.of("| parameter | default | from | to | meaning |", "| --- | --- | --- | --- | --- |"),
                        criterion.parameters().stream().map(ProceduresDocumentTest::row))
                .toList();
    }

    private static String row(Parameter<?> parameter) {
        Measure measure = parameter.measure();
        String origin = parameter.origin();
        return "| `" + parameter.name() + "` | " + measure.write(parameter.defaultValue()) + " | "
                + measure.write(parameter.minimum()) + " | " + measure.write(parameter.maximum()) + " | "
                + parameter.meaning()
                + (origin.isEmpty() ? "" : ". " + origin.substring(0, 1).toUpperCase(Locale.ROOT) + origin.substring(1))
                + " |";
    }

    /** {@code -Dloadwitness.rewrite=true} writes the tables into the document first, for whoever changed a parameter. */
    private static String document() {
        String text = Shipped.text("docs", "procedures.md");
        if (Boolean.getBoolean("loadwitness.rewrite")) {
            for (Criterion criterion : Criterion.values()) {
                text = withTable(text, criterion);
            }
            Shipped.write(text, "docs", "procedures.md");
        }
        return text;
    }

    private static String withTable(String text, Criterion criterion) {
        String before = section(text, "### `" + criterion.word() + "`");
        String rows = table(criterion).stream().map(row -> row + "\n").collect(Collectors.joining());
        String after = TABLE.matcher(before).find()
                ? TABLE.matcher(before).replaceFirst(Matcher.quoteReplacement(rows))
                : rows.isEmpty() ? before : before.stripTrailing() + "\n\n" + rows;
        return text.replace(before, after);
    }

    @Test
    void eachLoadIsExplained() {
        assertThat(all(FIRST_CELL, section(DOCUMENT, "| load |")))
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
        String table = section(DOCUMENT, heading);
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
    private static String section(String document, String begin) {
        int from = document.indexOf("\n" + begin);
        assertThat(from).as(begin).isNotNegative();
        int to = document.indexOf("\n#", from + 1 + begin.length());
        return document.substring(from, to < 0 ? document.length() : to);
    }

    private static List<String> all(Pattern pattern, String text) {
        return pattern.matcher(text)
                .results()
                .map((MatchResult r) -> r.group(1))
                .toList();
    }
}
