// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.procedure.Ask;
import java.time.Duration;
import java.util.List;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

/** A stage that needs a person, on a made-up machine. */
@Timeout(60)
final class AskingTest {
    private static Bench asking(String what) {
        return Bench.withStages("  - {id: guided, asks: " + what + ", loads: [cpu], proves: cpu, duration: 20 s}\n");
    }

    private static void untilAsked(Bench bench) throws InterruptedException {
        for (int i = 0; i < 100 && bench.events(EventKind.OPERATOR_ASKED).isEmpty(); i++) {
            bench.pass(Duration.ofMillis(100));
        }
        assertThat(bench.events(EventKind.OPERATOR_ASKED))
                .singleElement()
                .satisfies(e -> assertThat(e.text("stage")).isEqualTo("guided"));
    }

    private static void assertDoneThenLoaded(Bench bench, String what) {
        List<Event> done = bench.events(EventKind.OPERATOR_DONE);
        assertThat(done)
                .singleElement()
                .satisfies(e -> assertThat(e.text("what")).isEqualTo(what));
        Event load = bench.events(EventKind.LOAD_BEGIN).get(0);
        assertThat(bench.records.indexOf(done.get(0))).isLessThan(bench.records.indexOf(load));
        assertThat(bench.events(EventKind.STAGE_BEGIN).stream().map(e -> e.text("stage")))
                .containsExactly("idle", "guided", "cool-down");
        assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
    }

    @Test
    void nothingIsLoadedWhileAStageWaitsAndSamplingGoesOn() throws InterruptedException {
        try (Bench bench = asking("sleep")) {
            untilAsked(bench);
            int before = bench.samples().size();
            bench.pass(Duration.ofSeconds(60));
            assertThat(bench.works).isEmpty();
            assertThat(bench.samples()).hasSizeBetween(before + 59, before + 61);
            assertThat(bench.run.status().asked()).hasValueSatisfying(a -> {
                assertThat(a.ask()).isEqualTo(Ask.SLEEP);
                assertThat(a.left()).isLessThan(Ask.SLEEP.patience());
            });
        }
    }

    @Test
    void sleepIsSeenByTheClocksAndTheLoadFollowsAtOnce() throws InterruptedException {
        try (Bench bench = asking("sleep")) {
            untilAsked(bench);
            bench.pass(Duration.ofSeconds(7));
            bench.clock.sleep(Duration.ofSeconds(40));
            bench.passAll();
            assertDoneThenLoaded(bench, "sleep");
            Event done = bench.events(EventKind.OPERATOR_DONE).get(0);
            assertThat(done.number("seconds")).isCloseTo(8, within(1.1)); // time asleep is not of this clock
            assertThat(bench.events(EventKind.LOAD_BEGIN).get(0).at().seconds()
                            - done.at().seconds())
                    .isLessThan(1);
            assertThat(bench.run.status().asked()).isEmpty();
        }
    }

    @Test
    void aPlugPulledAndPutBackWhileItIsAskedForStopsNothing() throws InterruptedException {
        try (Bench bench = asking("replug")) {
            untilAsked(bench);
            bench.sensor.online = 0;
            bench.pass(Duration.ofSeconds(5));
            assertThat(bench.events(EventKind.OPERATOR_DONE)).isEmpty();
            assertThat(bench.run.status().asked().orElseThrow().halfDone()).isTrue();
            bench.sensor.online = 1;
            bench.passAll();
            assertDoneThenLoaded(bench, "replug");
            assertThat(bench.events(EventKind.ADAPTER_OFF)).hasSize(1);
        }
    }

    @Test
    void aPlugThatNobodyTouchedIsNotReplugged() throws InterruptedException {
        try (Bench bench = asking("replug")) {
            untilAsked(bench);
            bench.pass(Ask.REPLUG.patience().minusSeconds(10));
            assertThat(bench.events(EventKind.OPERATOR_DONE)).isEmpty();
            assertThat(bench.events(EventKind.STAGE_LEFT_OUT)).isEmpty();
        }
    }

    @Test
    void theAdapterThatIsLostUnderTheLoadAfterwardsStillStopsTheRun() throws InterruptedException {
        try (Bench bench = asking("replug")) {
            untilAsked(bench);
            bench.sensor.online = 0;
            bench.pass(Duration.ofSeconds(3));
            bench.sensor.online = 1;
            bench.passUntilStage("guided");
            bench.sensor.online = 0;
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.SAFETY_STOP);
        }
    }

    @Test
    void coolingEndsOnlyBelowTheLimitItself() throws InterruptedException {
        try (Bench bench = asking("cool-down")) {
            untilAsked(bench);
            bench.sensor.celsius = 45;
            bench.pass(Duration.ofSeconds(20));
            assertThat(bench.events(EventKind.OPERATOR_DONE)).isEmpty();
            bench.sensor.celsius = 44.9;
            bench.passAll();
            assertDoneThenLoaded(bench, "cool-down");
        }
    }

    @Test
    void aPartWhoseTemperatureDoesNotAnswerIsNotCold() throws InterruptedException {
        try (Bench bench = asking("cool-down")) {
            bench.sensor.celsius = Double.NaN;
            untilAsked(bench);
            bench.pass(Duration.ofSeconds(20));
            assertThat(bench.events(EventKind.OPERATOR_DONE)).isEmpty();
        }
    }

    @Test
    void whatNobodyDoesInTimeIsLeftOutAndTheRunGoesOn() throws InterruptedException {
        try (Bench bench = asking("sleep")) {
            untilAsked(bench);
            bench.pass(Ask.SLEEP.patience().plusSeconds(30));
            assertThat(bench.events(EventKind.STAGE_LEFT_OUT)).singleElement().satisfies(e -> {
                assertThat(e.text("stage")).isEqualTo("guided");
                assertThat(e.text("why")).contains("within 15 min");
            });
            assertThat(bench.events(EventKind.OPERATOR_DONE)).isEmpty();
            assertThat(bench.works).isEmpty();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
        }
    }

    @Test
    void aPersonWhoCannotDoItLeavesItOutByAKey() throws InterruptedException {
        try (Bench bench = asking("sleep")) {
            bench.run.leaveOutWhatIsAsked(); // typed too early: nobody was asked
            untilAsked(bench);
            bench.pass(Duration.ofSeconds(5));
            assertThat(bench.events(EventKind.STAGE_LEFT_OUT)).isEmpty();
            bench.run.leaveOutWhatIsAsked();
            bench.passAll();
            assertThat(bench.events(EventKind.STAGE_LEFT_OUT).get(0).text("why"))
                    .isEqualTo("by the operator");
        }
    }

    @Test
    void withoutAChargedBatteryNobodyIsToldToPullThePlug() throws InterruptedException {
        for (double charge : new double[] {Double.NaN, 0.09}) {
            try (Bench bench = asking("replug")) {
                bench.sensor.charge = charge;
                bench.passAll();
                assertThat(bench.events(EventKind.OPERATOR_ASKED)).isEmpty();
                assertThat(bench.events(EventKind.STAGE_LEFT_OUT).get(0).text("why"))
                        .contains("no battery");
            }
        }
    }

    @Test
    void whereNothingTellsOfAnAdapterOrOfSleepItIsNotAskedFor() throws InterruptedException {
        try (Bench bench = asking("replug")) {
            bench.sensor.online = Double.NaN;
            bench.passAll();
            assertThat(bench.events(EventKind.STAGE_LEFT_OUT).get(0).text("why"))
                    .contains("adapter");
        }
        try (Bench bench = asking("sleep")) {
            bench.clock.tellsSleep = false;
            bench.passAll();
            assertThat(bench.events(EventKind.STAGE_LEFT_OUT).get(0).text("why"))
                    .contains("slept");
        }
    }

    @Test
    void aShutdownThatWasAskedForLeavesTheLogOpenWithTheAskingAsItsLastEvent() throws InterruptedException {
        try (Bench bench = asking("power-off")) {
            untilAsked(bench);
            bench.pass(Duration.ofSeconds(5));
            bench.run.requestStop(CloseReason.OPERATOR_STOP, "Ctrl-C or a signal");
            bench.passAll();
            assertThat(bench.run.hasEnded()).isTrue();
            assertThat(bench.run.isLeftOpen()).isTrue();
            assertThat(bench.records).noneMatch(Close.class::isInstance);
            List<Event> events = bench.records.stream()
                    .filter(Event.class::isInstance)
                    .map(Event.class::cast)
                    .toList();
            assertThat(events.get(events.size() - 1).kind()).isEqualTo(EventKind.OPERATOR_ASKED.word());
        }
    }

    @Test
    void aSignalWhileAnythingElseIsAskedForEndsTheRun() throws InterruptedException {
        try (Bench bench = asking("sleep")) {
            untilAsked(bench);
            bench.run.requestStop(CloseReason.OPERATOR_STOP, "Ctrl-C or a signal");
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.OPERATOR_STOP);
            assertThat(bench.run.isLeftOpen()).isFalse();
        }
    }

    @Test
    void aDiskThatFailsWhileTheMachineShouldBeSwitchedOffClosesTheLogAsEver() throws InterruptedException {
        try (Bench bench = asking("power-off")) {
            untilAsked(bench);
            bench.run.requestStop(CloseReason.STORAGE_FULL, "full");
            bench.passAll();
            assertThat(bench.closedWith()).isEqualTo(CloseReason.STORAGE_FULL);
        }
    }

    @Test
    void afterTheBootTheRunGoesOnWithTheStageThatAsked() throws InterruptedException {
        try (Bench bench = asking("power-off")) {
            bench.run.goOnWith("guided", true, 95);
            bench.passAll();
            Event done = bench.events(EventKind.OPERATOR_DONE).get(0);
            assertThat(done.text("what")).isEqualTo("power-off");
            assertThat(done.number("seconds")).isEqualTo(95);
            assertThat(bench.events(EventKind.OPERATOR_ASKED)).isEmpty();
            assertThat(bench.events(EventKind.STAGE_BEGIN).stream().map(e -> e.text("stage")))
                    .containsExactly("guided", "cool-down");
            assertThat(bench.closedWith()).isEqualTo(CloseReason.COMPLETED);
        }
    }

    @Test
    void whatWasNotDoneIsAskedForAgainAndAnUntrustedClockGivesNoSeconds() throws InterruptedException {
        try (Bench bench = asking("power-off")) {
            bench.run.goOnWith("guided", false, 95);
            untilAsked(bench);
        }
        try (Bench bench = asking("power-off")) {
            bench.run.goOnWith("guided", true, Double.NaN);
            bench.passAll();
            assertThat(bench.events(EventKind.OPERATOR_DONE).get(0).facts()).doesNotContainKey("seconds");
            assertThatThrownBy(() -> bench.run.goOnWith("nowhere", true, 0)).hasMessageContaining("nowhere");
        }
    }

    @Test
    void aPendingPowerOffOutlivesWhatOtherPartsTellButNotTheNextStage() throws InterruptedException {
        try (Bench bench = asking("power-off")) {
            untilAsked(bench);
            bench.run.tell(EventKind.ADAPTER_OFF, java.util.Map.of());
            bench.pass(Duration.ofSeconds(2));
            PendingPowerOff pending = new PendingPowerOff();
            bench.records.stream()
                    .filter(Event.class::isInstance)
                    .map(Event.class::cast)
                    .forEach(pending::event);
            assertThat(pending.stage()).contains("guided");
            bench.run.leaveOutWhatIsAsked();
            bench.pass(Duration.ofSeconds(1));
            pending.event(bench.events(EventKind.STAGE_LEFT_OUT).get(0));
            assertThat(pending.stage()).isEmpty();
        }
    }
}
