// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.place;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.within;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.concurrent.atomic.AtomicLong;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class AppendTimeTest {
    private static final Duration BUDGET = Duration.ofSeconds(2);

    /** A disk that takes {@code usualMillis}, and each {@code every}th time {@code slowMillis}. */
    private static AppendTime slowDisk(long usualMillis, long slowMillis, int every) throws IOException {
        AtomicLong clock = new AtomicLong();
        AtomicLong number = new AtomicLong();
        return AppendTime.measure(
                () -> clock.addAndGet((number.incrementAndGet() % every == 0 ? slowMillis : usualMillis) * 1_000_000),
                clock::get,
                BUDGET);
    }

    @Test
    void medianAndNinetyNinthPercentileAreTold() throws IOException {
        AppendTime time = slowDisk(2, 40, 50); // 2 of 100 are slow
        assertThat(time.medianSeconds()).isCloseTo(0.002, within(1e-9));
        assertThat(time.p99Seconds()).isCloseTo(0.040, within(1e-9));
        assertThat(time.recordsPerSecond()).isCloseTo(25, within(1e-9));
        assertThat(time.appends()).isEqualTo(400);
    }

    @Test
    void fewSlowAppendsAreEnoughAndTheLongestCounts() throws IOException {
        AppendTime time = slowDisk(900, 1900, 3);
        assertThat(time.appends()).isEqualTo(3);
        assertThat(time.p99Seconds()).isCloseTo(1.9, within(1e-9));
    }

    @Test
    void diskThatStandsStillIsNotAskedThreeTimes() throws IOException {
        assertThat(slowDisk(30_000, 30_000, 1).appends()).isEqualTo(1);
    }

    /** By the writer's way of working: it forces in one go what has gathered while it forced. */
    @Test
    void recordWaitsForTheForceUnderWayAndForItsOwn() {
        AppendTime time = new AppendTime(0.2, 0.4, 100);
        assertThat(time.oldestUndurable(Duration.ofSeconds(1))).isEqualTo(Duration.ofMillis(400));
        assertThat(time.oldestUndurable(Duration.ofMillis(100))).isEqualTo(Duration.ofMillis(800));
    }

    @Test
    void realDiskIsMeasuredAndNothingStays(@TempDir Path folder) throws IOException {
        AppendTime time = AppendTime.measure(folder, Duration.ofMillis(200));
        assertThat(time.appends()).isPositive();
        assertThat(time.medianSeconds()).isPositive().isLessThanOrEqualTo(time.p99Seconds());
        try (Stream<Path> left = Files.list(folder)) {
            assertThat(left).isEmpty();
        }
    }

    @Test
    void folderThatIsNotThereIsNotMade(@TempDir Path folder) {
        Path absent = folder.resolve("absent");
        assertThatThrownBy(() -> AppendTime.measure(absent, BUDGET)).isInstanceOf(IOException.class);
        assertThat(absent).doesNotExist();
    }
}
