// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.resume;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.procedure.DecisionRule;
import dev.loadwitness.runlog.procedure.OnInterruption;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Safety;
import dev.loadwitness.runlog.procedure.Stage;
import java.time.Duration;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import org.junit.jupiter.api.Test;

final class DecisionTest {
    private static final Instant UTC = Instant.parse("2026-11-25T14:00:00Z");

    private final Unfinished log = new Unfinished();
    private int segment = -1;

    private static Procedure procedure(OnInterruption what) {
        return procedure(what, Map.of());
    }

    private static Procedure procedure(OnInterruption what, Map<Role, Double> ceilings) {
        return new Procedure(
                "bench",
                "Bench",
                Duration.ofSeconds(1),
                List.of(stage("idle"), stage("ramp"), stage("soak"), stage("cool")),
                Set.of(),
                new Safety(ceilings, Duration.ofSeconds(5), true, false),
                what,
                DecisionRule.SIMPLE,
                List.of());
    }

    private static Stage stage(String id) {
        return new Stage(id, List.of(), Optional.empty(), Optional.empty(), Duration.ofMinutes(1), 0);
    }

    private Boot nextBoot(String id) {
        return new Boot(new RunTime(segment + 1, 0), UTC, id, 1, true, Optional.empty());
    }

    private void boot(String id) {
        see(nextBoot(id));
        segment++;
    }

    private void sample() {
        see(new Sample(new RunTime(segment, 1), UTC, new double[] {1}));
    }

    private void event(EventKind kind, Map<String, Object> facts) {
        see(Event.of(new RunTime(segment, 2), UTC, kind, facts));
    }

    private void see(LogRecord record) {
        log.record(record, new Place(1, 1, 0));
    }

    private void ended(String stage) {
        event(EventKind.STAGE_BEGIN, Map.of("stage", stage));
        event(EventKind.STAGE_END, Map.of("stage", stage, "why", "completed"));
    }

    private Decision decide(OnInterruption what, String bootNow) {
        return Decision.of(log, nextBoot(bootNow), procedure(what));
    }

    @Test
    void aProcedureThatStopsIsClosedWhetherTheMachineOrTheAgentEnded() {
        boot("a");
        sample();
        Decision machine = decide(OnInterruption.STOP, "b");
        Decision agent = decide(OnInterruption.STOP, "a");
        assertThat(machine.closed()).contains(CloseReason.INTERRUPTED);
        assertThat(machine.why()).startsWith("the machine started again");
        assertThat(agent.closed()).contains(CloseReason.INTERRUPTED);
        assertThat(agent.why()).startsWith("the agent ended while the machine ran on");
    }

    @Test
    void aProcedureThatGoesOnBeginsTheStageThatBrokeOffAnew() {
        boot("a");
        sample();
        ended("idle");
        ended("ramp");
        event(EventKind.STAGE_BEGIN, Map.of("stage", "soak"));
        Decision decision = decide(OnInterruption.GO_ON, "b");
        assertThat(decision.closed()).isEmpty();
        assertThat(decision.stages().get(decision.stage()).id()).isEqualTo("soak");
        assertThat(decision.askedFor()).isFalse();
    }

    @Test
    void aStageThatWasStoppedHasNotEnded() {
        boot("a");
        sample();
        ended("idle");
        event(EventKind.STAGE_END, Map.of("stage", "ramp", "why", "stopped"));
        Decision decision = decide(OnInterruption.GO_ON, "b");
        assertThat(decision.stages().get(decision.stage()).id()).isEqualTo("ramp");
    }

    @Test
    void aStageThatTheRunLeftOutStaysLeftOut() {
        boot("a");
        event(EventKind.STAGE_LEFT_OUT, Map.of("stage", "ramp"));
        sample();
        ended("idle");
        Decision decision = decide(OnInterruption.GO_ON, "b");
        assertThat(decision.stages()).extracting(Stage::id).containsExactly("idle", "soak", "cool");
        assertThat(decision.stages().get(decision.stage()).id()).isEqualTo("soak");
    }

    @Test
    void threeBootsInARowWithoutASampleAreARestartLoopWhateverTheProcedureSays() {
        boot("a");
        sample();
        boot("b");
        assertThat(decide(OnInterruption.GO_ON, "c").closed()).isEmpty();
        boot("c");
        assertThat(decide(OnInterruption.GO_ON, "d").closed()).contains(CloseReason.RESTART_LOOP);
        sample();
        assertThat(decide(OnInterruption.GO_ON, "d").closed()).isEmpty();
    }

    @Test
    void startsOfTheAgentWithinOneBootAreNoRestartLoop() {
        boot("a");
        sample();
        boot("b");
        boot("b");
        boot("b");
        assertThat(decide(OnInterruption.GO_ON, "b").closed()).isEmpty();
    }

    @Test
    void bootsWithoutAnIdentityCountAsDifferentOnes() {
        boot("");
        boot("");
        assertThat(decide(OnInterruption.GO_ON, "").closed()).contains(CloseReason.RESTART_LOOP);
    }

    @Test
    void anInterruptionThatAStageAskedForIsGoneOnWithWhateverTheProcedureSays() {
        boot("a");
        sample();
        ended("idle");
        event(EventKind.OPERATOR_ASKED, Map.of("what", "power-off", "stage", "ramp"));
        sample();
        Decision decision = decide(OnInterruption.STOP, "b");
        assertThat(decision.closed()).isEmpty();
        assertThat(decision.askedFor()).isTrue();
        assertThat(decision.stages().get(decision.stage()).id()).isEqualTo("ramp");
        assertThat(log.secondsSinceAsked(nextBoot("b"))).isZero();

        assertThat(decide(OnInterruption.STOP, "a").closed())
                .as("the power was not off")
                .contains(CloseReason.INTERRUPTED);
    }

    @Test
    void aDeathAfterWhatWasAskedWasDoneIsAnInterruption() {
        boot("a");
        sample();
        event(EventKind.OPERATOR_ASKED, Map.of("what", "power-off", "stage", "idle"));
        boot("b");
        event(EventKind.OPERATOR_DONE, Map.of("what", "power-off", "stage", "idle"));
        sample();
        assertThat(decide(OnInterruption.STOP, "c").closed()).contains(CloseReason.INTERRUPTED);
    }

    @Test
    void noLoadIsPutOnWithACeilingThatNoSoundMachineNeedsWhoeverWroteIt() {
        boot("a");
        sample();
        Map<Role, Double> highest =
                Map.of(Role.CPU, 110.0, Role.GPU_DISCRETE, 105.0, Role.GPU_INTEGRATED, 110.0, Role.BATTERY, 60.0);
        assertThat(Decision.of(log, nextBoot("b"), procedure(OnInterruption.GO_ON, highest))
                        .closed())
                .isEmpty();
        highest.forEach((role, celsius) -> {
            Procedure edited = procedure(OnInterruption.GO_ON, Map.of(role, celsius + 1));
            Decision decision = Decision.of(log, nextBoot("b"), edited);
            assertThat(decision.closed()).as(role.word()).contains(CloseReason.INTERRUPTED);
            assertThat(decision.why()).contains("stop-above is too high for " + role.word());
        });
    }

    @Test
    void aLogThatSomebodyAlteredPutsNoLoadOn() {
        boot("a");
        sample();
        log.damage(new Damage(Damage.Kind.TORN_TAIL, new Place(1, 9, 0), 3, "a torn tail"));
        assertThat(decide(OnInterruption.GO_ON, "b").closed()).isEmpty();
        log.damage(new Damage(Damage.Kind.EDITED, new Place(1, 1, 0), 0, "its chain value is another"));
        Decision decision = decide(OnInterruption.GO_ON, "b");
        assertThat(decision.closed()).contains(CloseReason.INTERRUPTED);
        assertThat(decision.why()).startsWith("the log was altered (its chain value is another)");
    }
}
