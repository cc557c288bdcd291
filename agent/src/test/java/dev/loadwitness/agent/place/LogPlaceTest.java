// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatCode;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.command.Complaint;
import java.nio.file.Path;
import java.time.Duration;
import java.util.Optional;
import org.junit.jupiter.api.Test;

final class LogPlaceTest {
    private static final Path FOLDER = Path.of("/media/stick/runs");
    private static final Duration SECOND = Duration.ofSeconds(1);
    private static final Duration TWO_SECONDS = Duration.ofSeconds(2);
    private static final FileSystem STICK = new FileSystem(FOLDER, "vfat", false, false, 4L << 30);

    private static LogPlace place(FileSystem fileSystem, double medianSeconds, double p99Seconds) {
        return new LogPlace(
                FOLDER, Optional.of(fileSystem), Optional.of(new AppendTime(medianSeconds, p99Seconds, 150)), "");
    }

    @Test
    void quickDiskIsNothingToWarnOf() {
        LogPlace quick = place(STICK, 0.0005, 0.004);
        assertThat(quick.warnings(SECOND)).isEmpty();
        assertThatCode(() -> quick.check(SECOND, TWO_SECONDS)).doesNotThrowAnyException();
        assertThat(String.join("\n", quick.lines(SECOND, 24)))
                .contains("FAT, 4.0 GiB free")
                .contains("0.5 ms (median), 4.0 ms (99th percentile of 150): carries 250 samples a second")
                .contains("at one sample each 1 s the oldest record not yet on the disk is 4.0 ms old");
    }

    @Test
    void hoursOfLogFollowFromRoomChannelsAndPeriod() {
        // 4 GiB / (165 + 5 * 24 = 285 bytes a second) = 4,186 h
        assertThat(String.join("\n", place(STICK, 0.001, 0.001).lines(SECOND, 24)))
                .contains("about 4186 h of log with 24 channels");
    }

    @Test
    void diskSlowerThanTheSamplingIsSaidAndStillTakenWhileThePromiseHolds() {
        LogPlace slow = place(STICK, 0.1, 0.5);
        Duration tenth = Duration.ofMillis(100);
        assertThat(String.join("\n", slow.warnings(tenth)))
                .contains("THIS DISK IS SLOW", "up to 500 ms", "100 ms", "the last 1 s");
        assertThatCode(() -> slow.check(tenth, Duration.ofMillis(1100))).doesNotThrowAnyException();
    }

    @Test
    void runThatCouldNotKeepItsPromiseIsRefusedWithAWayOut() {
        LogPlace slow = place(STICK, 0.5, 1.5);
        assertThatThrownBy(() -> slow.check(SECOND, TWO_SECONDS))
                .isInstanceOf(Complaint.class)
                .hasMessageContainingAll("too slow", "1.5 s", "3 s", "promise 2 s", "sampling:", "--work-dir");
    }

    @Test
    void logInMemoryIsSaidLoudly() {
        LogPlace memory = place(new FileSystem(FOLDER, "tmpfs", true, false, 4L << 30), 1e-6, 1e-6);
        assertThat(memory.warnings(SECOND).get(0)).contains("IN MEMORY (tmpfs)", "NOT SURVIVE A POWER CUT");
        assertThat(memory.lines(SECOND, 10)).anyMatch(l -> l.contains("IN MEMORY"));
    }

    @Test
    void littleRoomIsSaid() {
        LogPlace full = place(new FileSystem(FOLDER, "vfat", false, false, 1 << 20), 0.001, 0.001);
        assertThat(full.warnings(SECOND)).anyMatch(l -> l.contains("Only 1.0 MiB") && l.contains("55 min of log"));
    }

    @Test
    void placeThatCannotBeWrittenIsRefused() {
        LogPlace refused = new LogPlace(FOLDER, Optional.of(STICK), Optional.empty(), "it is mounted read-only");
        assertThat(refused.lines(SECOND, 5)).anyMatch(l -> l.contains("CANNOT BE WRITTEN: it is mounted read-only"));
        assertThatThrownBy(() -> refused.check(SECOND, TWO_SECONDS)).hasMessageContaining("mounted read-only");
    }
}
