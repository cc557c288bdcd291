// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.criteria.heat;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.criteria.Judged;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

/** Half a minute cold, a hundred seconds with the GPU at 82 °C and the processor at 60. */
class FansTest {
    @TempDir
    Path folder;

    private static LogBuilder soak(String fan, LogBuilder.Curve rpm) {
        return LogBuilder.gpuSoak(100, "fans", "mandatory: yes")
                .curve("gpu.temperature", m -> m.loaded() ? 82 : 45)
                .curve("cpu.temperature", m -> 60)
                .channel(Channel.of(fan, Metric.FAN_SPEED, Role.FAN, "hwmon/board"), rpm);
    }

    private Finding judge(LogBuilder log) throws IOException {
        return Judged.finding(folder, log, Criterion.FANS);
    }

    /** Still from second 60 on: {@code seconds} from the first such sample to the last. */
    @ParameterizedTest(name = "still for {0} s: {1}")
    @CsvSource({"14, PASS", "15, FAIL"})
    void aFanThatStandsStillWhileItsChipIsHotFails(int seconds, Outcome outcome) throws Exception {
        Finding f = judge(soak("fan.gpu.speed", m -> m.seconds() >= 60 && m.seconds() <= 60 + seconds ? 0 : 3000));
        assertThat(f.outcome()).as(f.because()).isEqualTo(outcome);
        if (outcome == Outcome.FAIL) {
            assertThat(f.because())
                    .startsWith("The fan fan.gpu.speed stood still for 15 s from 1:00 while the discrete GPU");
            assertThat(f.measured()).isEqualTo("0 of 1 turned; fan.gpu.speed stalled");
        } else {
            assertThat(f.measured()).isEqualTo("1 of 1 turned");
        }
    }

    @Test
    void constantFullSpeedAndStoppedWhenColdPass() throws Exception {
        assertThat(judge(soak("fan.gpu.speed", m -> 5000)).outcome()).isEqualTo(Outcome.PASS);
        // Still while cold, and for the ten seconds that it takes to notice the heat.
        assertThat(judge(soak("fan.gpu.speed", m -> m.seconds() < 5 || m.seconds() > 40 ? 3000 : 0))
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void theFanOfAColdChipMayStandStill() throws Exception {
        assertThat(judge(soak("fan.cpu.speed", m -> m.seconds() < 60 ? 3000 : 0))
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void aFanThatDoesNotSayWhatItCoolsFailsOnlyWhenEveryChipIsHot() throws Exception {
        LogBuilder log = soak("fan.board.fan1.speed", m -> m.seconds() < 60 ? 3000 : 0);
        assertThat(judge(log).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(judge(log.curve("cpu.temperature", m -> 80)).outcome()).isEqualTo(Outcome.FAIL);
    }

    @Test
    void aFanThatGivesNoReadingWhileHotIsNotPassed() throws Exception {
        Finding f = judge(soak("fan.gpu.speed", m -> m.seconds() < 60 ? 3000 : Double.NaN));
        assertThat(f.outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        assertThat(f.because()).contains("gave no reading");
    }

    @Test
    void aFanOfAHotChipThatNeverTurnedIsNotPassed() throws Exception {
        LogBuilder log = soak("fan.gpu.speed", m -> 0);
        assertThat(judge(log).because()).contains("dead, or none is fitted");
        assertThat(judge(log).outcome()).isEqualTo(Outcome.INCONCLUSIVE);
        // An empty header of the board, beside a fan that turns.
        LogBuilder header = soak("fan.board.fan2.speed", m -> 0)
                .curve("cpu.temperature", m -> 80)
                .channel(Channel.of("fan.board.fan1.speed", Metric.FAN_SPEED, Role.FAN, "hwmon/board"), m -> 3000);
        assertThat(judge(header).outcome()).isEqualTo(Outcome.PASS);
        assertThat(judge(header).evidence()).extracting(Evidence::text).anyMatch(t -> t.contains("0 rpm throughout"));
    }

    @Test
    void withoutATemperatureNothingSaysWhenAFanMustTurn() throws Exception {
        LogBuilder log =
                soak("fan.gpu.speed", m -> 3000).without(c -> c.metric().name().equals(Metric.TEMPERATURE.name()));
        assertThat(judge(log).outcome()).isEqualTo(Outcome.NOT_MEASURED);
    }
}
