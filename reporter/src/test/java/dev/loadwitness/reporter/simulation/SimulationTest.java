// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelKind;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Arrays;
import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.EnumSource;

final class SimulationTest {
    @Test
    void sameSeedGivesTheSameRecords() {
        assertThat(words(Played.of(Scenario.BAD_CONTACT))).isEqualTo(words(Played.of(Scenario.BAD_CONTACT)));
    }

    @Test
    void otherSeedGivesOtherReadings() {
        assertThat(Played.of(Scenario.CLEAN_PASS).values(LaptopSensors.GPU_POWER))
                .isNotEqualTo(Played.of(Scenario.THIRD_ATTEMPT).values(LaptopSensors.GPU_POWER));
    }

    private static List<String> words(Played played) {
        return played.records.stream()
                .map(r -> r instanceof Sample s ? s.at() + " " + s.utc() + Arrays.toString(s.values()) : r.toString())
                .toList();
    }

    @ParameterizedTest
    @EnumSource
    void onlyThePlantedDropoutLeavesReadingsOut(Scenario scenario) {
        Played played = Played.of(scenario);
        List<Channel> channels = played.channels();
        for (int i = 0; i < played.records.size(); i++) {
            if (!(played.records.get(i) instanceof Sample sample)) {
                continue;
            }
            for (int c = 0; c < channels.size(); c++) {
                if (Double.isFinite(sample.values()[c])) {
                    continue;
                }
                assertThat(channels.get(c).source()).isEqualTo(LaptopSensors.DROPOUT_SOURCE);
                assertThat(played.records.get(i + 1))
                        .isInstanceOfSatisfying(
                                Event.class, e -> assertThat(e.known()).hasValue(EventKind.SOURCE_SILENT));
            }
        }
        long loaded = Simulation.of(scenario).procedure().stages().stream()
                .filter(s -> !s.loads().isEmpty())
                .count();
        // Those that die in the soak of the short procedure never come to its load steps.
        long never = scenario.onRails() && scenario.diesSuddenly() ? 1 : 0;
        assertThat(played.events(EventKind.SOURCE_SILENT)).hasSize((int) (loaded - never));
    }

    @ParameterizedTest
    @EnumSource
    void countersNeverFallAndTimeNeverStandsStill(Scenario scenario) {
        Played played = Played.of(scenario);
        for (Channel channel : played.channels()) {
            if (channel.metric().kind() == ChannelKind.COUNTER) {
                assertThat(played.values(channel.id())).as(channel.id()).isSorted();
            }
        }
        RunTime last = null;
        for (LogRecord record : played.records) {
            RunTime at = record instanceof Sample s ? s.at() : record instanceof Event e ? e.at() : null;
            if (at != null && last != null && at.segment() == last.segment()) {
                assertThat(at.nanos()).isGreaterThan(last.nanos());
            }
            last = at == null ? last : at;
        }
    }

    @ParameterizedTest
    @EnumSource(names = {"CLEAN_PASS", "BAD_CONTACT", "ADAPTER_NOT_RECOGNISED", "IDLE_SOAK"})
    void energyCounterIsTheIntegralOfPower(Scenario scenario) {
        Played played = Played.of(scenario);
        double[] joules = played.during("discrete-soak", LaptopSensors.GPU_ENERGY);
        double[] watts = played.during("discrete-soak", LaptopSensors.GPU_POWER);
        double integral = 0;
        for (int i = 1; i < watts.length; i++) {
            integral += 2 * (watts[i] + watts[i - 1]) / 2;
        }
        double counted = joules[joules.length - 1] - joules[0];
        // The reported power is a running mean of half a second, read every two: some of a fast change is missed.
        assertThat(integral).isCloseTo(counted, within(0.005 * counted));
    }

    @ParameterizedTest
    @EnumSource
    void samplesComeOnceAPeriodWithALittleLateness(Scenario scenario) {
        Played played = Played.of(scenario);
        List<Sample> samples = played.samples();
        double[] late = played.values("witness.lateness");
        double period = Simulation.of(scenario).procedure().samplingPeriod().toMillis() / 1e3;
        // A later boot's first sample comes at once, and the next when it would have come without the boot.
        for (int i = 0; i < samples.size() && samples.get(i).at().segment() == 0; i++) {
            double due = period * i;
            assertThat(samples.get(i).at().seconds() - due).isBetween(0.0, 0.05);
            assertThat(late[i]).isBetween(0.0, 0.05);
        }
        assertThat(Arrays.stream(late).distinct().count()).isGreaterThan(100);
    }

    @ParameterizedTest
    @EnumSource
    void witnessProvesBeforeTheSoakThatItCanSee(Scenario scenario) {
        Played played = Played.of(scenario);
        double soak = played.events(EventKind.STAGE_BEGIN).get(1).at().seconds();
        assertThat(played.events(EventKind.WITNESS_CHECK).stream().limit(2).toList())
                .allMatch(e -> e.at().seconds() < soak)
                .allMatch(e -> e.facts().get("caught").equals(true))
                .extracting(e -> e.text("check"))
                .containsExactly("planted-miscomputation", "planted-dropout");
    }

    @Test
    void everyRunIsMarkedSimulatedAndHasItsOwnId() {
        assertThat(Arrays.stream(Scenario.values()).map(s -> Simulation.of(s).header()))
                .allMatch(h -> h.simulated() && h.runId().matches("[0-9a-f]{32}"));
        assertThat(Arrays.stream(Scenario.values()).map(s -> Simulation.of(s).runId()))
                .doesNotHaveDuplicates();
    }

    @Test
    void shippedTwoHourProcedureRunsToItsEndWithEveryKindOfLoad() throws IOException {
        Path file = Path.of("..", "thresholds", "gpu-power-repair.yaml");
        Attachment procedure = Attachment.of("gpu-power-repair.yaml", Files.readString(file));
        Played played = Played.of(Simulation.of(Scenario.CLEAN_PASS).following(procedure));
        assertThat(played.close())
                .hasValueSatisfying(c -> assertThat(c.reason()).isEqualTo("completed"));
        assertThat(played.samples().size()).isGreaterThan(6900);
        assertThat(growth(played.during("integrated-soak", "gpu-integrated.work.verified")))
                .isPositive();
        assertThat(growth(played.during("combined", "cpu.work.verified"))).isPositive();
        assertThat(growth(played.during("idle", "gpu-discrete.work.verified"))).isZero();
        assertThat(Arrays.stream(played.during("ramp", LaptopSensors.GPU_POWER))
                        .mapToLong(w -> Math.round(w / 25))
                        .distinct()
                        .count())
                .isGreaterThanOrEqualTo(4);
    }

    private static double growth(double[] counter) {
        return counter[counter.length - 1] - counter[0];
    }
}
