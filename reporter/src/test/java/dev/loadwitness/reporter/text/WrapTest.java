// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.List;
import org.junit.jupiter.api.Test;

final class WrapTest {
    private static final int LONG = 200_000;

    @Test
    void wordLongerThanALineIsBrokenAfterItsHyphensAndElseByForce() {
        assertThat(Wrap.lines("gpu-discrete-temperature is high", 12))
                .isEqualTo(List.of("gpu-", "discrete-", "temperature", "is high"));
        assertThat(Wrap.lines("abcdefgh", 3)).isEqualTo(List.of("abc", "def", "gh"));
        assertThat(Wrap.lines("漢字漢字", 4)).isEqualTo(List.of("漢字", "漢字"));
    }

    /** A log's text may be of marks that take no room, so that no line is ever full. */
    @Test
    void wordWithoutWidthIsNotMeasuredAnewForEachOfItsCharacters() {
        Wrap.lines("a".repeat(LONG), 80);
        long letters = nanos("a".repeat(LONG));
        long marks = nanos("a" + "\u0300".repeat(LONG));

        assertThat(marks / Math.max(1, letters))
                .as("times as long as of letters")
                .isLessThan(100);
    }

    private static long nanos(String word) {
        long begin = System.nanoTime();
        Wrap.lines(word, 80);
        return System.nanoTime() - begin;
    }
}
