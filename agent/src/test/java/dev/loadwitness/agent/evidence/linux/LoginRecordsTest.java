// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.evidence.linux.LoginRecords.Kind;
import dev.loadwitness.agent.evidence.linux.LoginRecords.Mark;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Instant;
import java.util.Arrays;
import java.util.List;
import java.util.Random;
import java.util.concurrent.TimeUnit;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/**
 * The layout is checked against util-linux: its utmpdump writes the records, and its last reads them. Three boots, the
 * first ended in order, the second not.
 */
final class LoginRecordsTest {
    private static final String DUMP = """
            [2] [00000] [~~  ] [reboot  ] [~           ] [6.1.0-40-amd64      ] [0.0.0.0        ] [2026-03-01T08:00:05,123456+00:00]
            [1] [00053] [~~  ] [runlevel] [~           ] [6.1.0-40-amd64      ] [0.0.0.0        ] [2026-03-01T08:00:20,000000+00:00]
            [7] [01234] [ts/0] [shutdown] [pts/0       ] [192.0.2.7           ] [192.0.2.7      ] [2026-03-01T08:10:00,000000+00:00]
            [1] [00000] [~~  ] [shutdown] [~           ] [6.1.0-40-amd64      ] [0.0.0.0        ] [2026-03-01T09:00:00,500000+00:00]
            [2] [00000] [~~  ] [reboot  ] [~           ] [6.1.0-40-amd64      ] [0.0.0.0        ] [2026-03-02T08:00:05,000000+00:00]
            [7] [01300] [tty1] [user    ] [tty1        ] [                    ] [0.0.0.0        ] [2026-03-02T08:01:00,000000+00:00]
            [2] [00000] [~~  ] [reboot  ] [~           ] [6.1.0-40-amd64      ] [0.0.0.0        ] [2026-03-02T10:00:08,000000+00:00]
            """;

    @TempDir
    private Path folder;

    @Test
    void recordsThatUtilLinuxWroteAreReadAsItsOwnProgramReadsThem() throws Exception {
        Path file = written();

        assertThat(LoginRecords.read(file))
                .containsExactly(
                        new Mark(Kind.BOOT, Instant.parse("2026-03-01T08:00:05Z")),
                        new Mark(Kind.SHUTDOWN, Instant.parse("2026-03-01T09:00:00Z")),
                        new Mark(Kind.BOOT, Instant.parse("2026-03-02T08:00:05Z")),
                        new Mark(Kind.BOOT, Instant.parse("2026-03-02T10:00:08Z")));
        // Newest first; a session that nothing ended is a crash.
        List<String> last = run(folder, "last", "-x", "--time-format", "iso", "-f", file.toString());
        assertThat(last.stream().filter(l -> l.startsWith("reboot") || l.startsWith("shutdown system")))
                .satisfiesExactly(
                        l -> assertThat(l).startsWith("reboot").contains("2026-03-02T10:00:08"),
                        l -> assertThat(l).startsWith("reboot").contains("2026-03-02T08:00:05"),
                        l -> assertThat(l).startsWith("shutdown").contains("2026-03-01T09:00:00"),
                        l -> assertThat(l).startsWith("reboot").contains("2026-03-01T08:00:05"));
        assertThat(last).anySatisfy(l -> assertThat(l).startsWith("user").contains("crash"));
    }

    @Test
    void whatFollowsTheSamplesBootSaysHowItEnded() throws Exception {
        List<Mark> marks = LoginRecords.read(written());

        assertThat(LoginRecords.after(marks, Instant.parse("2026-03-01T08:30:00Z")))
                .contains(Found.SHUTDOWN);
        assertThat(LoginRecords.after(marks, Instant.parse("2026-03-02T09:59:00Z")))
                .contains(Found.NONE);
        assertThat(LoginRecords.after(marks, Instant.parse("2026-02-28T08:00:00Z")))
                .as("the file does not reach back so far")
                .isEmpty();
        assertThat(LoginRecords.after(marks, Instant.parse("2026-03-02T11:00:00Z")))
                .as("no later start is on record: its absence says nothing")
                .isEmpty();
    }

    @Test
    void theShutdownOfAnEarlierBootIsNotTakenForThatOfOneWhoseStartWasLost() throws Exception {
        assertThat(LoginRecords.after(LoginRecords.read(written()), Instant.parse("2026-03-01T20:00:00Z")))
                .isEmpty();
    }

    @Test
    void cutAndGarbledFilesAreReadAsFarAsTheyGo() throws Exception {
        byte[] whole = Files.readAllBytes(written());
        Path file = folder.resolve("cut");
        for (int length = 0; length <= whole.length; length += 37) {
            Files.write(file, Arrays.copyOf(whole, length));
            assertThat(LoginRecords.read(file).size()).isLessThanOrEqualTo(length / LoginRecords.RECORD_BYTES);
        }
        byte[] noise = new byte[10 * LoginRecords.RECORD_BYTES + 5];
        new Random(5).nextBytes(noise);
        Files.write(file, noise);
        assertThat(LoginRecords.read(file)).hasSizeLessThanOrEqualTo(10);
    }

    private Path written() throws Exception {
        Path text = Files.writeString(folder.resolve("text"), DUMP);
        Path file = folder.resolve("wtmp");
        Process process = new ProcessBuilder("utmpdump", "-r", "-o", file.toString(), text.toString())
                .redirectError(ProcessBuilder.Redirect.DISCARD)
                .start();
        assertThat(process.waitFor(20, TimeUnit.SECONDS)).isTrue();
        assertThat(Files.size(file)).isEqualTo(7L * LoginRecords.RECORD_BYTES);
        return file;
    }

    private static List<String> run(Path folder, String... command) throws IOException, InterruptedException {
        ProcessBuilder builder = new ProcessBuilder(command).directory(folder.toFile());
        builder.environment().put("TZ", "UTC");
        builder.environment().put("LC_ALL", "C");
        Process process = builder.start();
        String out = new String(process.getInputStream().readAllBytes(), StandardCharsets.UTF_8);
        assertThat(process.waitFor(20, TimeUnit.SECONDS)).isTrue();
        return out.lines().toList();
    }
}
