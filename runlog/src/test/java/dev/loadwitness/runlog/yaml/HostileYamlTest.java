// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import static org.assertj.core.api.Assertions.assertThat;

import java.time.Duration;
import java.util.Collections;
import java.util.List;
import java.util.stream.Stream;
import org.junit.jupiter.api.Assertions;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.Arguments;
import org.junit.jupiter.params.provider.MethodSource;

final class HostileYamlTest {
    private static final int MIB = 1 << 20;

    static Stream<Arguments> hostile() {
        StringBuilder laughs = new StringBuilder("a0: &a0 [lol, lol, lol, lol, lol, lol, lol, lol, lol]\n");
        for (int i = 1; i < 20; i++) {
            String nine = String.join(", ", Collections.nCopies(9, "*a" + (i - 1)));
            laughs.append("a" + i + ": &a" + i + " [" + nine + "]\n");
        }
        StringBuilder steps = new StringBuilder();
        for (int depth = 0; depth < 1000; depth++) {
            steps.append(" ".repeat(depth)).append("a:\n");
        }
        return Stream.of(
                Arguments.of("a billion laughs", laughs.toString(), "anchors"),
                Arguments.of("an alias for a key", "*a : 1", "a key must be a plain word"),
                Arguments.of("an anchor on a key", "&a b: 1", "anchors"),
                Arguments.of("an alias that means itself", "a: &a [*a]", "anchors"),
                Arguments.of("a tag that names a class", "a: !!javax.script.ScriptEngineManager [x]", "tags"),
                Arguments.of("a tag on a value", "a: !x 1", "tags"),
                Arguments.of("a mebibyte of opening brackets", "[".repeat(MIB), "nested deeper"),
                Arguments.of("a mebibyte of opening braces", "{".repeat(MIB), "not readable"),
                Arguments.of("a mebibyte of list marks", "- ".repeat(MIB / 2), "nested deeper"),
                Arguments.of("a mebibyte of question marks", "? ".repeat(MIB / 2), "not readable"),
                Arguments.of("a thousand steps of indentation", steps.toString(), "nested deeper"),
                Arguments.of("more than a mebibyte", "a".repeat(MIB + 1), "longer than 1 MiB"),
                Arguments.of("a mebibyte in characters, more in bytes", "ä".repeat(MIB), "longer than 1 MiB"),
                Arguments.of("a quote that never ends", "a: \"" + "b".repeat(MIB - 4), "not readable"),
                Arguments.of("two documents", "a: 1\n---\nb: 2", "second document"),
                Arguments.of("nothing", "", "empty"),
                Arguments.of("comments only", "# nothing\n", "empty"),
                Arguments.of("a NUL", "a: 1\nb\0: 2", "no text holds"),
                Arguments.of("half a character", "a: \uD800", "no text holds"),
                Arguments.of("a list as a key", "? [a]\n: b", "a key must be a plain word"),
                Arguments.of("a tab for indentation", "a:\n\tb: 1", "indented with spaces"));
    }

    @ParameterizedTest(name = "{0}")
    @MethodSource("hostile")
    void hostileTextIsRefusedQuicklyWithOneProblem(String name, String text, String said) {
        Reading reading = new Reading();

        // Seconds, not milliseconds: the machine that runs the tests may be busy. Unfolding any of these takes hours.
        Assertions.assertTimeoutPreemptively(
                Duration.ofSeconds(10), () -> assertThat(reading.tree(text)).isEmpty());
        assertThat(reading.problems()).hasSize(1);
        assertThat(reading.problems().get(0).text()).contains(said);
    }

    @Test
    void syntaxErrorIsNamedWhereItIs() {
        Reading reading = new Reading();

        assertThat(reading.tree("a: 1\nb: [1, 2\nc: 3\n")).isEmpty();
        assertThat(reading.problems().get(0).line()).isEqualTo(3);
    }

    @Test
    void foreignTextCannotSteerTheTerminalThroughAMessage() {
        Reading reading = new Reading();
        Located tree = reading.tree("\"\\e[2Jxx\\u202E\": 1").orElseThrow();

        reading.section(tree, "it", List.of("a"));

        assertThat(reading.problems().get(0).text()).contains("'?[2Jxx?'").doesNotContain("\u001B", "\u202E");
    }

    /** Shown as it is, this name would end in "gpj.yaml". */
    @Test
    void aFileNamedToTurnWhatStandsBesideItIsNamedByItsCharacters() {
        Reading reading = new Reading();
        assertThat(reading.tree("a: 1\nb: [1, 2\n")).isEmpty();

        String complaint = Problem.listed("photo\u202Elmay.jpg\u001B[2J", reading.problems());

        assertThat(complaint).startsWith("photo⟨U+202E⟩lmay.jpg⟨U+001B⟩[2J line 3, column 1: ");
    }

    @Test
    void textWithControlCharactersIsRefusedAndLineBreaksBecomeSpaces() {
        Reading reading = new Reading();

        assertThat(reading.text(new Located.Text(1, 1, "a\n  b\n"), "it", 10)).hasValue("a b");
        assertThat(reading.text(new Located.Text(1, 1, "a\u001Bb"), "it", 10)).isEmpty();
        assertThat(reading.problems()).hasSize(1);
    }

    @Test
    void aMebibyteOfBlanksInATextTakesNoLongerThanAnyOtherText() {
        Located.Text blanks = new Located.Text(1, 1, "a" + " ".repeat(MIB) + "b");
        Reading reading = new Reading();

        Assertions.assertTimeoutPreemptively(
                Duration.ofSeconds(10),
                () -> assertThat(reading.text(blanks, "it", 10)).isEmpty());
        assertThat(reading.problems()).hasSize(1);
    }

    @Test
    void eightLevelsAreReadAndNineAreNot() {
        assertThat(new Reading().tree("[".repeat(8) + "]".repeat(8))).isPresent();
        assertThat(new Reading().tree("[".repeat(9) + "]".repeat(9))).isEmpty();
    }

    @Test
    void exactlyOneMebibyteIsRead() {
        assertThat(new Reading().tree("a".repeat(MIB))).isPresent();
    }
}
