// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

final class NearestTest {
    /** Counted by hand; kitten/sitting is the textbook pair, ca/abc the pair that tells the restricted form (3) apart. */
    @ParameterizedTest
    @CsvSource({
        "'', '', 0",
        "'', abc, 3",
        "abc, '', 3",
        "same, same, 0",
        "kitten, sitting, 3",
        "duration, duratoin, 1",
        "ab, ba, 1",
        "ca, abc, 3",
        "stage, stages, 1"
    })
    void distanceCountsEditsAndSwapsOfNeighbours(String a, String b, int distance) {
        assertThat(Nearest.distance(a, b)).isEqualTo(distance);
        assertThat(Nearest.distance(b, a)).isEqualTo(distance);
    }

    @Test
    void nearestWordWinsWhateverTheOrder() {
        assertThat(Nearest.of("cpu-sock", List.of("cpu-socket", "cpu-soak"))).hasValue("cpu-soak");
        assertThat(Nearest.of("cpu-sock", List.of("cpu-soak", "cpu-socket"))).hasValue("cpu-soak");
    }

    @Test
    void capitalsAndUnderscoresAreNoDifference() {
        assertThat(Nearest.of("Stop_Above", List.of("silent-after", "stop-above")))
                .hasValue("stop-above");
    }

    @Test
    void farWordsAreNotGuessed() {
        assertThat(Nearest.of("colour", List.of("stages", "safety", "title"))).isEmpty();
        assertThat(Nearest.of("x".repeat(100_000), List.of("x".repeat(100_000))))
                .isEmpty();
    }
}
