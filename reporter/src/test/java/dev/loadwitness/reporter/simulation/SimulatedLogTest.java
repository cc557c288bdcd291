// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.verdict.Judge;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.read.LogVisitor;
import dev.loadwitness.runlog.file.read.ReadSummary;
import dev.loadwitness.runlog.file.read.RunLogReader;
import dev.loadwitness.runlog.procedure.Criterion;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

final class SimulatedLogTest {
    @TempDir
    Path folder;

    private static final class Samples implements LogVisitor {
        final List<Sample> samples = new ArrayList<>();

        @Override
        public void record(LogRecord record, Place place) {
            if (record instanceof Sample sample) {
                samples.add(sample);
            }
        }

        @Override
        public void damage(Damage damage) {
            // The summary lists it.
        }
    }

    @Test
    void whatIsReadBackIsWhatWasPlayed() throws IOException {
        Played played = Played.of(Scenario.CLEAN_PASS);
        SimulatedLog.write(Simulation.of(Scenario.CLEAN_PASS), folder, "run");
        Samples read = new Samples();
        ReadSummary summary = RunLogReader.read(folder.resolve("run.jsonl"), read);
        assertThat(summary.damages()).isEmpty();
        assertThat(summary.closed()).isTrue();
        assertThat(read.samples).hasSameSizeAs(played.samples());
        for (int i = 0; i < read.samples.size(); i++) {
            assertThat(read.samples.get(i).values())
                    .isEqualTo(played.samples().get(i).values());
        }
    }

    @Test
    void suddenDeathLeavesATornTailAndNothingElse() throws IOException {
        SimulatedLog.write(Simulation.of(Scenario.POWER_CUT), folder, "run");
        ReadSummary summary = RunLogReader.read(folder.resolve("run.jsonl"), new Samples());
        assertThat(summary.closed()).isFalse();
        assertThat(summary.damages()).singleElement().satisfies(d -> {
            assertThat(d.isTornTail()).isTrue();
            assertThat(d.bytes()).isPositive();
        });
    }

    @Test
    void tamperedReadingIsFoundAtItsLineAndNeverPasses() throws IOException {
        SimulatedLog.write(Simulation.of(Scenario.CLEAN_PASS), folder, "run");
        Path forged = folder.resolve("forged.jsonl");
        int channel = Played.of(Scenario.CLEAN_PASS).index(LaptopSensors.GPU_TEMPERATURE);
        long line = SimulatedLog.tamper(folder.resolve("run.jsonl"), forged, 900, channel, 61);
        Samples read = new Samples();
        ReadSummary summary = RunLogReader.read(forged, read);
        assertThat(read.samples.get(900).values()[channel]).isEqualTo(61);
        assertThat(summary.damages()).first().satisfies(d -> {
            assertThat(d.kind()).isEqualTo(Damage.Kind.EDITED);
            assertThat(d.place().line()).isEqualTo(line);
        });
        assertThat(Judge.judge(Judge.Request.of(forged)).verdict().outcome()).isEqualTo(Outcome.INCONCLUSIVE);
    }

    @Test
    void longRunHas24ChannelsAtTenHertzAndPasses() throws IOException {
        Duration length = Duration.ofMinutes(40);
        new LongRun(length, Duration.ofMillis(100)).write(folder, "long");
        Samples read = new Samples();
        ReadSummary summary = RunLogReader.read(folder.resolve("long.jsonl"), read);
        assertThat(summary.damages()).isEmpty();
        assertThat(read.samples).hasSize(24_000);
        assertThat(read.samples.get(0).values()).hasSize(24).doesNotContain(Double.NaN);
        assertThat(read.samples.get(23_999).at().seconds()).isEqualTo(2400);
        assertThat(Judge.judge(Judge.Request.of(folder.resolve("long.jsonl")))
                        .verdict()
                        .outcome())
                .isEqualTo(Outcome.PASS);
    }

    @Test
    void threeDaysAreJudgedByTheirLastMinutesAsAnHourIs() throws IOException {
        new LongRun(Duration.ofDays(3), Duration.ofSeconds(2)).write(folder, "days");
        Verdict verdict =
                Judge.judge(Judge.Request.of(folder.resolve("days.jsonl"))).verdict();
        assertThat(verdict.outcome()).isEqualTo(Outcome.PASS);
        assertThat(verdict.findings())
                .filteredOn(
                        f -> f.criterion() == Criterion.CLOCK_HELD || f.criterion() == Criterion.TEMPERATURE_SETTLED)
                .hasSize(2)
                .allSatisfy(f -> assertThat(f.because()).contains("last"));
    }
}
