// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

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
        assertThat(complaint("porbe", "x")).startsWith("unknown command 'porbe'; did you mean 'probe'?");
    }

    @Test
    void aMistypedOptionIsAnsweredWithTheNearest() {
        assertThat(complaint("probe", "--procedrue")).contains("did you mean '--procedure'?");
    }

    @Test
    void whatIsLikeNoCommandGetsNoGuess() {
        assertThat(complaint("frobnicate"))
                .startsWith("unknown command 'frobnicate'\n")
                .doesNotContain("did you mean");
    }
}
