// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.command.Sysexits;
import java.io.ByteArrayOutputStream;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import org.junit.jupiter.api.Test;

class MistypedTest {
    private static String complaint(String... args) {
        PrintStream before = System.err;
        ByteArrayOutputStream told = new ByteArrayOutputStream();
        try {
            System.setErr(new PrintStream(told, true, StandardCharsets.UTF_8));
            assertThat(Main.run(args)).isEqualTo(Sysexits.USAGE);
        } finally {
            System.setErr(before);
        }
        return told.toString(StandardCharsets.UTF_8);
    }

    @Test
    void aMistypedCommandIsAnsweredWithTheNearest() {
        assertThat(complaint("jugde", "x")).startsWith("unknown command 'jugde'; did you mean 'judge'?");
    }

    @Test
    void aMistypedOptionIsAnsweredWithTheNearest() {
        assertThat(complaint("judge", "run.jsonl", "--earleir")).contains("did you mean '--earlier'?");
    }

    @Test
    void whatIsLikeNoCommandGetsNoGuess() {
        assertThat(complaint("frobnicate"))
                .startsWith("unknown command 'frobnicate'\n")
                .doesNotContain("did you mean");
    }
}
