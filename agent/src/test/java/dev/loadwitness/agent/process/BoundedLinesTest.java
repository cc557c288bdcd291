// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.util.ArrayList;
import java.util.List;
import org.junit.jupiter.api.Test;

final class BoundedLinesTest {
    private static List<String> all(BoundedLines lines) throws IOException {
        List<String> all = new ArrayList<>();
        for (String line = lines.readLine(); line != null; line = lines.readLine()) {
            all.add(line);
        }
        return all;
    }

    private static BoundedLines of(String text, int most) {
        return new BoundedLines(new ByteArrayInputStream(text.getBytes(StandardCharsets.UTF_8)), most);
    }

    @Test
    void linesComeAsTheyWereSaidAndTheLastNeedsNoEnd() throws IOException {
        BoundedLines lines = of("a\n\n½ µ\r\nlast", 100);
        assertThat(all(lines)).containsExactly("a", "", "½ µ\r", "last");
        assertThat(lines.lastWasCut()).isFalse();
        assertThat(all(of("a\n", 100))).containsExactly("a");
        assertThat(all(of("", 100))).isEmpty();
    }

    @Test
    void whatIsTooLongIsCutAndTheNextLineIsWhole() throws IOException {
        BoundedLines lines = of("x".repeat(1000) + "y".repeat(50_000) + "\n" + "z".repeat(1000) + "\nend\n", 1000);
        assertThat(lines.readLine()).isEqualTo("x".repeat(1000));
        assertThat(lines.lastWasCut()).isTrue();
        assertThat(lines.readLine()).as("exactly as long as it may be").isEqualTo("z".repeat(1000));
        assertThat(lines.lastWasCut()).isFalse();
        assertThat(all(lines)).containsExactly("end");
    }

    @Test
    void aLineWithoutAnEndIsGivenCutBeforeItsEndComes() throws IOException {
        BoundedLines lines = new BoundedLines(
                new InputStream() {
                    @Override
                    public int read() {
                        return 'x';
                    }
                },
                1 << 16);
        assertThat(lines.readLine()).hasSize(1 << 16);
        assertThat(lines.lastWasCut()).isTrue();
    }

    @Test
    void bytesThatAreNoTextAreStillALine() throws IOException {
        BoundedLines lines =
                new BoundedLines(new ByteArrayInputStream(new byte[] {(byte) 0xFF, 0, (byte) 0xC3, '\n', 'a'}), 10);
        assertThat(all(lines)).containsExactly("\uFFFD\0\uFFFD", "a");
    }
}
