// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.screen;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.run.Status;
import dev.loadwitness.agent.storage.StorageWatch;
import java.io.ByteArrayOutputStream;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.time.Duration;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.Test;

final class ScreenTest {
    private static final StorageWatch.Warning NO_DISK =
            new StorageWatch.Warning(StorageWatch.Warning.NO_DISK, "PUT THE STICK BACK.");
    private static final StorageWatch.Warning LOST =
            new StorageWatch.Warning(StorageWatch.Warning.LOST, "NOTHING MORE IS WRITTEN.");

    private static String shown(Optional<String> ended, StorageWatch.Warning warning, boolean terminal) {
        Status status =
                new Status("soak", false, Optional.empty(), Duration.ZERO, Duration.ZERO, ended, List.of(), List.of());
        ByteArrayOutputStream bytes = new ByteArrayOutputStream();
        new Screen(new PrintStream(bytes, true, StandardCharsets.UTF_8), terminal, List.of("title"), "run.jsonl")
                .show(status, Optional.of(warning), 1);
        return bytes.toString(StandardCharsets.UTF_8);
    }

    @Test
    void aLostLogStandsInTheLargestLettersAlsoWhenTheRunIsOver() {
        for (Optional<String> ended : List.of(Optional.<String>empty(), Optional.of("agent-failed: why"))) {
            assertThat(shown(ended, LOST, true))
                    .contains(BlockLetters.rows("LOG LOST"))
                    .contains("NOTHING MORE IS WRITTEN.")
                    .doesNotContain(BlockLetters.rows("STOPPED")[1]);
            assertThat(shown(ended, LOST, false)).startsWith("LOG LOST NOTHING MORE IS WRITTEN.");
        }
        assertThat(BlockLetters.rows("LOG LOST")[0].length()).isLessThan(80);
    }

    @Test
    void aDiskThatMayComeBackIsInLargeLettersOnlyWhileTheRunGoesOn() {
        assertThat(shown(Optional.empty(), NO_DISK, true)).contains(BlockLetters.rows("NO LOG DISK"));
        assertThat(shown(Optional.of("operator-stop: why"), NO_DISK, true)).contains(BlockLetters.rows("STOPPED"));
        assertThat(shown(Optional.empty(), NO_DISK, false)).startsWith("NO LOG DISK PUT THE STICK BACK.");
    }
}
