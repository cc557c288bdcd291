// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.procedure.Procedure;
import java.time.Duration;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;

final class RunTest {
    @Test
    void stagesRunInTheirOrderAndTheRunIsClosedAsCompleted() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passAll();
            assertThat(bench.events(EventKind.STAGE_BEGIN).stream().map(e -> e.text("stage")))
                    .containsExactly("idle", "cpu-soak", "cool-down");
            assertThat(bench.events(EventKind.STAGE_END).stream().map(e -> e.text("why")))
                    .containsExactly("completed", "completed", "completed");
            assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
            assertThat(bench.works).hasSize(1).allMatch(w -> w.stopped);
        }
    }

    @Test
    void aRunThatGoesOnRepeatsNoStageThatEndedAndCountsTheWholeLog() throws InterruptedException {
        try (Bench bench = Bench.resumed(new Run.Beginning(3, 1, 1000, 50))) {
            bench.passAll();
            assertThat(bench.events(EventKind.STAGE_BEGIN).stream().map(e -> e.text("stage")))
                    .containsExactly("cpu-soak", "cool-down");
            assertThat(bench.records.stream().filter(r -> r instanceof dev.loadwitness.runlog.Boot))
                    .as("the boot record was written before the run was made")
                    .isEmpty();
            assertThat(bench.samples()).isNotEmpty().allMatch(s -> s.at().segment() == 3);
            long events = bench.records.stream().filter(Event.class::isInstance).count();
            assertThat(bench.records.get(bench.records.size() - 1))
                    .isInstanceOfSatisfying(dev.loadwitness.runlog.Close.class, c -> {
                        assertThat(c.at().segment()).isEqualTo(3);
                        assertThat(c.samples()).isEqualTo(1000 + bench.samples().size());
                        assertThat(c.events()).isEqualTo(50 + events);
                    });
        }
    }

    @Test
    void aRunWhoseStagesHadAllEndedIsOnlyClosed() throws InterruptedException {
        try (Bench bench = Bench.resumed(new Run.Beginning(1, 3, 0, 0))) {
            bench.passAll();
            assertThat(bench.works).isEmpty();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
        }
    }

    @Test
    void aStageLastsItsOwnTimeWhateverThePreparationTook() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passAll();
            double begin = bench.events(EventKind.STAGE_BEGIN).get(1).at().seconds();
            double end = bench.events(EventKind.STAGE_END).get(1).at().seconds();
            assertThat(end - begin).isCloseTo(30, within(0.2));
        }
    }

    @Test
    void samplesKeepTheirPeriod() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passAll();
            List<Sample> samples = bench.samples();
            for (int i = 1; i < samples.size(); i++) {
                assertThat(samples.get(i).at().seconds()
                                - samples.get(i - 1).at().seconds())
                        .isCloseTo(1, within(1e-6));
            }
        }
    }

    @Test
    void samplesThatWereMissedAreNotMadeUpInABurst() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.pass(Duration.ofSeconds(2));
            int before = bench.samples().size();
            bench.clock.advance(Duration.ofMillis(3400).toNanos());
            bench.run.step(bench.clock.nanos());
            bench.run.step(bench.clock.nanos());
            List<Sample> after = bench.samples();
            assertThat(after).hasSize(before + 1);
            double lateness = after.get(before).values()[after.get(before).values().length - 1];
            assertThat(lateness).isBetween(2.4, 3.5);
        }
    }

    @Test
    void bothPlantedFaultsAreCaughtBeforeTheSoakBegins() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            List<Event> checks = bench.events(EventKind.WITNESS_CHECK);
            assertThat(checks.stream().map(e -> e.text("check")))
                    .containsExactlyInAnyOrder("planted-miscomputation", "planted-dropout");
            assertThat(checks).allMatch(e -> e.facts().get("caught").equals(true));
            assertThat(index(bench, checks.get(1)))
                    .isLessThan(index(bench, bench.events(EventKind.STAGE_BEGIN).get(1)));
            assertThat(bench.events(EventKind.SOURCE_SILENT))
                    .anyMatch(e -> e.facts().get("planted").equals(true));
        }
    }

    @Test
    void aPlantedFaultThatIsNotCaughtEndsTheRunAsBlind() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.plantsAreCaught = false;
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.WITNESS_BLIND);
            assertThat(bench.events(EventKind.WITNESS_CHECK))
                    .anyMatch(e -> e.facts().get("caught").equals(false));
            assertThat(bench.works).allMatch(w -> w.stopped);
        }
    }

    @Test
    void aReadingAboveTheCeilingTakesTheLoadOffBeforeAnythingIsWritten() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            bench.sensor.celsius = 100.5;
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.SAFETY_STOP);
            assertThat(bench.events(EventKind.SAFETY_STOP))
                    .singleElement()
                    .satisfies(e -> assertThat(e.text("why")).isEqualTo("ceiling"));
            assertThat(bench.works).allMatch(w -> w.stopped);
            assertThat(bench.events(EventKind.STAGE_END).get(1).text("why")).isEqualTo("stopped");
        }
    }

    @Test
    void aReadingAtTheCeilingIsNotAboveIt() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.sensor.celsius = 100;
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
        }
    }

    @Test
    void theSilenceOfAGuardingSensorStopsTheLoad() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            bench.sensor.fails = true;
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.SAFETY_STOP);
            assertThat(bench.events(EventKind.SAFETY_STOP).get(0).text("why")).isEqualTo("silent");
        }
    }

    @Test
    void losingTheAdapterUnderLoadStopsTheRun() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            bench.sensor.online = 0;
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.SAFETY_STOP);
            assertThat(bench.events(EventKind.SAFETY_STOP).get(0).text("why")).isEqualTo("adapter");
            assertThat(bench.events(EventKind.ADAPTER_OFF)).hasSize(1);
        }
    }

    @Test
    void aLimitThatMovesByMoreThanAHundredthIsWrittenDown() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.pass(Duration.ofSeconds(2));
            bench.sensor.limitWatts = 45.2;
            bench.pass(Duration.ofSeconds(1));
            bench.sensor.limitWatts = 30;
            bench.passAll();
            assertThat(bench.events(EventKind.LIMIT_CHANGED))
                    .singleElement()
                    .satisfies(e -> assertThat(e.number("to")).isEqualTo(30));
        }
    }

    @Test
    void aPartThatNothingGuardsIsNotLoadedWhereTheProcedureRefuses() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.sensor.celsius = Double.NaN;
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.SAFETY_STOP);
            assertThat(bench.events(EventKind.SAFETY_STOP).get(0).text("why")).isEqualTo("unguarded");
        }
    }

    @Test
    void aPartThatNoChannelCouldGuardIsKnownBeforeTheRun() throws InterruptedException {
        Procedure refuses = Bench.usualProcedure("refuse");
        List<Channel> channels;
        try (Bench bench = new Bench()) {
            channels = bench.sensor.channels();
        }
        List<Channel> blind = channels.stream()
                .filter(c -> !c.is(Role.CPU, Metric.TEMPERATURE))
                .toList();
        assertThat(Guard.unwatched(refuses, channels)).isEmpty();
        assertThat(Guard.unwatched(refuses, blind))
                .hasEntrySatisfying(Role.CPU, stage -> assertThat(stage.id()).isEqualTo("cpu-soak"))
                .hasSize(1);
        assertThat(Guard.unwatched(Bench.usualProcedure("allow"), blind)).isEmpty();
    }

    @Test
    void aPartThatNothingGuardsIsLoadedAndSaidSoWhereTheProcedureAllows() throws InterruptedException {
        try (Bench bench = new Bench("allow")) {
            bench.sensor.celsius = Double.NaN;
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
            assertThat(bench.events(EventKind.UNGUARDED)).hasSize(1);
        }
    }

    @Test
    void aLoadIsToldThePowerOfItsOwnDeviceElseOfItsRole() throws InterruptedException {
        for (String address : List.of("0000:01:00.0", "0000:02:00.0", "")) {
            try (Bench bench = new Bench()) {
                bench.loadsRunOn = address;
                bench.passUntilStage("cpu-soak");
                bench.pass(Duration.ofSeconds(2));
                assertThat(bench.works.get(0).toldWatts).isEqualTo(address.equals("0000:01:00.0") ? 17 : 31);
            }
        }
    }

    @Test
    void theLogSaysWhatALoadRunsOn() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.loadsRunOn = "0000:01:00.0";
            bench.passAll();
            assertThat(bench.events(EventKind.LOAD_BEGIN))
                    .singleElement()
                    .satisfies(e -> assertThat(e.text("address")).isEqualTo("0000:01:00.0"));
        }
    }

    @Test
    void aLoadThatLooksForItsHeaviestFormHasTheTimeItAsksFor() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.loadsTake = Duration.ofSeconds(90);
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
        }
    }

    /** Such a load is heavy long before it is ready. */
    @Test
    void aPartThatNothingGuardsIsNotLoadedForLongWhileItsLoadGetsReady() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.sensor.celsius = Double.NaN;
            bench.loadsTake = Duration.ofSeconds(90);
            bench.pass(Duration.ofSeconds(15));
            assertThat(bench.closedWith()).isEqualTo(CloseReason.SAFETY_STOP);
        }
    }

    @Test
    void aLoadThatDiesEndsTheRun() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            bench.works.get(0).happens(EventKind.WORKER_DIED, true);
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.LOAD_FAILED);
            assertThat(bench.events(EventKind.WORKER_DIED)).hasSize(1);
        }
    }

    @Test
    void aWrongResultIsWrittenDownAndTheRunGoesOn() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            bench.works.get(0).happens(EventKind.COMPUTE_ERROR, false);
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
            assertThat(bench.events(EventKind.COMPUTE_ERROR)).hasSize(1);
        }
    }

    @Test
    void aLoadThatCannotBeStartedEndsTheRunWithTheReason() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.loadsCanStart = false;
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.LOAD_FAILED);
        }
    }

    @Test
    void theOperatorsStopClosesTheRunAtTheNextStep() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            bench.run.requestStop(CloseReason.OPERATOR_STOP, "Ctrl-C");
            bench.run.step(bench.clock.nanos());
            assertThat(bench.closedWith()).isEqualTo(CloseReason.OPERATOR_STOP);
            assertThat(bench.works).allMatch(w -> w.stopped);
            assertThat(bench.events(EventKind.OPERATOR_STOP)).hasSize(1);
        }
    }

    @Test
    void sleepIsSeenFromTheBootTimeClock() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.pass(Duration.ofSeconds(2));
            bench.clock.sleep(Duration.ofMinutes(7));
            bench.passAll();
            assertThat(bench.events(EventKind.SUSPENDED))
                    .singleElement()
                    .satisfies(e -> assertThat(e.number("seconds")).isCloseTo(420, within(1.0)));
            assertThat(bench.events(EventKind.CLOCK_STEP)).isEmpty();
        }
    }

    @Test
    void aClockSetBackIsWrittenDownAndChangesNothingElse() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.pass(Duration.ofSeconds(2));
            bench.clock.setWall(Duration.ofHours(-3));
            bench.passAll();
            assertThat(bench.events(EventKind.CLOCK_STEP))
                    .singleElement()
                    .satisfies(e -> assertThat(e.number("seconds")).isCloseTo(-10800, within(1.0)));
            assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
            assertThat(bench.samples().stream().mapToLong(s -> s.at().nanos())).isSorted();
        }
    }

    @Test
    void aStallOfTheSamplerAloneIsTheWitnesssOwn() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            bench.pass(Duration.ofSeconds(3));
            long gap = Duration.ofSeconds(12).toNanos();
            bench.works.forEach(w -> w.work(gap));
            bench.heartbeatGapNanos = gap;
            bench.clock.advance(gap);
            bench.pass(Duration.ofSeconds(3));
            assertThat(bench.events(EventKind.WITNESS_STALLED)).hasSize(1);
            assertThat(bench.events(EventKind.HANG)).isEmpty();
        }
    }

    @Test
    void aStandstillOfSamplerHeartbeatAndLoadsIsAHang() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            bench.pass(Duration.ofSeconds(3));
            long gap = Duration.ofSeconds(12).toNanos();
            bench.heartbeatGapNanos = gap;
            bench.clock.advance(gap);
            bench.pass(Duration.ofSeconds(3));
            assertThat(bench.events(EventKind.WITNESS_STALLED)).isEmpty();
            assertThat(bench.events(EventKind.HANG))
                    .singleElement()
                    .satisfies(e -> assertThat(e.number("seconds")).isBetween(10.0, 12.5));
        }
    }

    @Test
    void aFullDiskEndsTheRun() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            bench.run.tell(EventKind.STORAGE_LOW, Map.of("detail", "no room"));
            bench.run.requestStop(CloseReason.STORAGE_FULL, "no room");
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.STORAGE_FULL);
            assertThat(bench.events(EventKind.STORAGE_LOW)).hasSize(1);
        }
    }

    /** What another thread tells is written behind the sample of the same step, whose time is older. */
    @Test
    void timesNeverGoBackWhateverIsToldWhileTheClockGoesOn() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passUntilStage("cpu-soak");
            for (int i = 0; i < 50; i++) {
                bench.letSensorsCatchUp();
                bench.run.tell(EventKind.STORAGE_LOW, Map.of("detail", "pulled"));
                long stepBegins = bench.clock.nanos();
                bench.clock.advance(1_000_000);
                bench.clock.advance(Math.max(0, bench.run.step(stepBegins) - bench.clock.nanos()));
            }
            bench.pass(Duration.ofSeconds(1)); // what was told last may wait for the next step
            assertThat(bench.events(EventKind.STORAGE_LOW)).hasSize(50);
            assertThat(bench.samples()).hasSizeGreaterThan(5);
            assertThat(bench.records.stream().map(RunTest::nanos)).isSorted();
        }
    }

    private static long nanos(LogRecord logRecord) {
        return logRecord instanceof Sample s ? s.at().nanos() : logRecord instanceof Event e ? e.at().nanos() : 0;
    }

    @Test
    void countsInTheCloseAreThoseOfTheLog() throws InterruptedException {
        try (Bench bench = new Bench()) {
            bench.passAll();
            dev.loadwitness.runlog.Close close =
                    (dev.loadwitness.runlog.Close) bench.records.get(bench.records.size() - 1);
            assertThat(close.samples()).isEqualTo(bench.samples().size());
            assertThat(close.events())
                    .isEqualTo(bench.records.stream()
                            .filter(Event.class::isInstance)
                            .count());
        }
    }

    private static int index(Bench bench, LogRecord logRecord) {
        return bench.records.indexOf(logRecord);
    }
}
