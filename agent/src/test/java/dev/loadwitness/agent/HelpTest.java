// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.command.Program;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import org.junit.jupiter.api.Test;

/**
 * What {@code --help} of each command prints is what it was. It holds nothing for right, only for unchanged: whoever
 * changes a text on purpose writes it anew with {@code -Dloadwitness.rewrite=true} and looks at the difference.
 */
class HelpTest {
    private static final Path KEPT = Path.of("src/test/resources/dev/loadwitness/agent/help.txt");

    @Test
    void theHelpOfEachCommandIsWhatItWas() throws IOException {
        StringBuilder all = new StringBuilder(help());
        for (String command : commands()) {
            all.append("\n---- ").append(command).append('\n').append(help(command));
        }
        if (Boolean.getBoolean("loadwitness.rewrite")) {
            Files.writeString(KEPT, all);
        }
        assertThat(all.toString()).isEqualTo(Files.readString(KEPT));
    }

    private static Iterable<String> commands() {
        return Main.commands(Program.writer(System.err)).getSubcommands().keySet();
    }

    private static String help(String... command) {
        PrintStream before = System.out;
        ByteArrayOutputStream said = new ByteArrayOutputStream();
        try {
            System.setOut(new PrintStream(said, true, StandardCharsets.UTF_8));
            String[] words = Arrays.copyOf(command, command.length + 1);
            words[command.length] = "--help";
            assertThat(Main.run(words)).isZero();
        } finally {
            System.setOut(before);
        }
        return said.toString(StandardCharsets.UTF_8);
    }
}
