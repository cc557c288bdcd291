// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.screen;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.run.Status;
import dev.loadwitness.runlog.procedure.Ask;
import java.io.ByteArrayOutputStream;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.time.Duration;
import java.util.Arrays;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

final class AskWordsTest {
    private static Status status(Ask ask, boolean halfDone) {
        Status.Asked asked = new Status.Asked(ask, halfDone, Duration.ofSeconds(125));
        return new Status(
                "guided",
                false,
                Optional.of(asked),
                Duration.ZERO,
                Duration.ZERO,
                Optional.empty(),
                List.of(),
                List.of());
    }

    private static String shown(Status status, boolean terminal) {
        ByteArrayOutputStream bytes = new ByteArrayOutputStream();
        new Screen(new PrintStream(bytes, true, StandardCharsets.UTF_8), terminal, List.of("title"), "run.jsonl")
                .show(status, Optional.empty(), 1);
        return bytes.toString(StandardCharsets.UTF_8);
    }

    /** A letter without a shape would be left out in silence. */
    @ParameterizedTest
    @EnumSource(Ask.class)
    void theLargeWordsHaveAShapeForEachLetterAndFitEightyColumns(Ask ask) {
        for (boolean halfDone : new boolean[] {false, true}) {
            String large =
                    AskWords.of(new Status.Asked(ask, halfDone, Duration.ZERO)).large();
            for (int i = 0; i < large.length(); i++) {
                char letter = large.charAt(i);
                assertThat(BlockLetters.rows("I" + letter + "I")[0].length())
                        .as("%s of %s", letter, large)
                        .isGreaterThan(BlockLetters.rows("II")[0].length());
            }
            assertThat(Arrays.stream(BlockLetters.rows(large)).mapToInt(String::length))
                    .allMatch(width -> width <= 110);
        }
    }

    @Test
    void aTerminalSaysInLettersAndWordsWhatToDoAndHowToLeaveItOut() {
        String screen = shown(status(Ask.SLEEP, false), true);
        assertThat(screen)
                .contains(BlockLetters.rows("SLEEP"))
                .contains("wake it")
                .contains("Type s and Enter");
        assertThat(screen).contains("no load is on").contains("\u0007");
        assertThat(screen).contains(BlockLetters.rows("2:05"));
    }

    @Test
    void thePlugIsToBePulledFirstAndPutBackThen() {
        assertThat(shown(status(Ask.REPLUG, false), false)).startsWith("UNPLUG: Pull");
        assertThat(shown(status(Ask.REPLUG, true), false)).startsWith("PLUG IN: Put");
    }

    @Test
    void elsewhereOnePlainLineSaysItWithTheTimeThatIsLeft() {
        assertThat(shown(status(Ask.POWER_OFF, false), false))
                .contains("SWITCH OFF: Shut the machine down")
                .contains("guided waits, without a load, for at most 2:05");
    }
}
