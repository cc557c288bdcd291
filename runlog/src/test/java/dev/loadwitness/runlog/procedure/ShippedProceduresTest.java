// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.entry;

import dev.loadwitness.runlog.Role;
import java.nio.file.Path;
import java.time.Duration;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.Test;

final class ShippedProceduresTest {
    @Test
    void quickCheckLoadsProcessorAndMemoryForTwoMinutesAndWhatGpusThereAre() throws ProcedureException {
        Procedure quick = Shipped.procedure("quick-check.yaml");

        assertThat(quick.name()).isEqualTo("quick-check");
        assertThat(quick.samplingPeriod()).isEqualTo(Duration.ofSeconds(1));
        assertThat(quick.stages())
                .containsExactly(
                        stage("idle", List.of(), Optional.empty(), 10, 0),
                        stage("cpu-soak", List.of(LoadKind.CPU), Optional.of(Role.CPU), 60, 0),
                        stage("memory-soak", List.of(LoadKind.MEMORY), Optional.empty(), 30, 0.25),
                        ifPresent("integrated-load", Role.GPU_INTEGRATED),
                        ifPresent("discrete-load", Role.GPU_DISCRETE),
                        stage("cool-down", List.of(), Optional.empty(), 10, 0));
        assertThat(quick.requiredDevices()).isEmpty();
        assertThat(quick.absent()).isEmpty();
        assertThat(quick.safety().stopAboveCelsius())
                .containsOnly(
                        entry(Role.CPU, 105.0),
                        entry(Role.GPU_DISCRETE, 92.0),
                        entry(Role.GPU_INTEGRATED, 105.0),
                        entry(Role.BATTERY, 45.0));
        assertThat(quick.safety().silentAfter()).isEqualTo(Duration.ofSeconds(10));
        assertThat(quick.safety().stopWhenAdapterLost()).isTrue();
        assertThat(quick.safety().allowUnguarded()).isTrue();
        assertThat(quick.decision().guardFactor()).isEqualTo(1);
        assertThat(quick.mandatory().map(CriterionSetting::criterion))
                .containsExactly(
                        Criterion.SOAK_DURATION,
                        Criterion.INTERRUPTIONS,
                        Criterion.TEMPERATURE_CEILING,
                        Criterion.COMPUTE_ERRORS,
                        Criterion.MEMORY_ERRORS,
                        Criterion.EVIDENCE);
        CriterionSetting soak = quick.setting(Criterion.SOAK_DURATION).orElseThrow();
        assertThat(soak.seconds(Parameters.SoakDuration.AT_LEAST)).isEqualTo(50);
        assertThat(soak.share(Parameters.SoakDuration.POWER_SHARE)).isEqualTo(0.85);
        assertThat(soak.origin(Parameters.SoakDuration.AT_LEAST)).isEqualTo("procedure");
    }

    @Test
    void gpuPowerRepairHoldsTheDiscreteGpuForAnHourAfterIntegratedSoakAndRamp() throws ProcedureException {
        Procedure repair = Shipped.procedure("gpu-power-repair.yaml");

        assertThat(repair.stages())
                .extracting(Stage::id)
                .containsExactly(
                        "idle",
                        "integrated-soak",
                        "ramp",
                        "discrete-core",
                        "discrete-memory",
                        "discrete-mix",
                        "load-steps",
                        "combined",
                        "cool-down");
        assertThat(repair.duration()).isEqualTo(Duration.ofMinutes(147));
        assertThat(repair.provedParts()).containsExactly(Role.GPU_DISCRETE);
        assertThat(repair.requiredDevices()).containsExactly(Role.GPU_DISCRETE, Role.GPU_INTEGRATED);
        assertThat(repair.setting(Criterion.SOAK_DURATION).orElseThrow().seconds(Parameters.SoakDuration.AT_LEAST))
                .isEqualTo(3600);
        // The mix alone holds the hour, with room for its start: core and memory by themselves draw less.
        assertThat(repair.stages().get(5).duration()).isEqualTo(Duration.ofMinutes(62));
        assertThat(repair.safety().allowUnguarded()).isFalse();
        assertThat(repair.safety().stopAboveCelsius())
                .containsExactly(
                        entry(Role.CPU, 105.0),
                        entry(Role.GPU_DISCRETE, 92.0),
                        entry(Role.GPU_INTEGRATED, 105.0),
                        entry(Role.BATTERY, 45.0));
        assertThat(repair.mandatory().map(CriterionSetting::criterion))
                .containsExactlyInAnyOrder(
                        Criterion.SOAK_DURATION,
                        Criterion.LIMIT_WITHDRAWN,
                        Criterion.INTERRUPTIONS,
                        Criterion.TEMPERATURE_CEILING,
                        Criterion.TEMPERATURE_SETTLED,
                        Criterion.THROTTLE,
                        Criterion.CLOCK_HELD,
                        Criterion.POWER_HELD,
                        Criterion.RAMP,
                        Criterion.LOAD_STEPS,
                        Criterion.COMPUTE_ERRORS,
                        Criterion.HARDWARE_ERRORS,
                        Criterion.DEVICES,
                        Criterion.RAILS,
                        Criterion.HAND_CHECKS,
                        Criterion.EVIDENCE);
    }

    /** The hour at fixed watts is the mixed stage's, whichever rail was repaired. */
    @Test
    void gpuPowerRepairGivesARepairedRailTwiceItsShareAndTheMixItsHour() throws ProcedureException {
        Procedure repair = Shipped.procedure("gpu-power-repair.yaml");

        assertThat(soakMinutes(repair, "")).containsExactly(15L, 15L, 62L);
        assertThat(soakMinutes(repair, "graphics core")).containsExactly(30L, 15L, 62L);
        assertThat(soakMinutes(repair, "graphics memory")).containsExactly(15L, 30L, 62L);
        assertThat(soakMinutes(repair, "graphics core, graphics memory")).containsExactly(30L, 30L, 62L);
        assertThat(repair.forRail("graphics core").duration()).isEqualTo(Duration.ofMinutes(162));
    }

    private static List<Long> soakMinutes(Procedure procedure, String rail) {
        return procedure.forRail(rail).stages().stream()
                .filter(stage -> stage.proves().isPresent())
                .map(stage -> stage.duration().toMinutes())
                .toList();
    }

    @Test
    void integratedOnlyWantsTheDiscreteGpuAbsentAndNeverLoadsIt() throws ProcedureException {
        Procedure integrated = Shipped.procedure("integrated-only.yaml");

        assertThat(integrated.absent()).containsExactly(Role.GPU_DISCRETE);
        assertThat(integrated.setting(Criterion.DEVICES).orElseThrow().mandatory())
                .as("it is what judges the absence")
                .isTrue();
        assertThat(integrated.requiredDevices()).containsExactly(Role.GPU_INTEGRATED);
        assertThat(integrated.provedParts()).containsExactly(Role.GPU_INTEGRATED, Role.CPU);
        assertThat(integrated.setting(Criterion.SOAK_DURATION).orElseThrow().seconds(Parameters.SoakDuration.AT_LEAST))
                .isEqualTo(1800);
        assertThat(integrated.safety().allowUnguarded()).isFalse();
    }

    @Test
    void chargeCircuitFailsForALostAdapterAndAsksThatTheBatteryGains() throws ProcedureException {
        Procedure charge = Shipped.procedure("charge-circuit.yaml");

        assertThat(charge.safety().stopWhenAdapterLost()).isTrue();
        assertThat(charge.setting(Criterion.INTERRUPTIONS).orElseThrow().mandatory())
                .isTrue();
        assertThat(charge.setting(Criterion.LIMIT_WITHDRAWN).orElseThrow().mandatory())
                .isTrue();
        assertThat(charge.setting(Criterion.CHARGING).orElseThrow().mandatory()).isTrue();
        assertThat(charge.setting(Criterion.CHARGING).orElseThrow().share(Parameters.Charging.GAINED))
                .isEqualTo(0.01);
        assertThat(charge.longestStretch(Role.CPU)).isEqualTo(Duration.ofMinutes(32));
        assertThat(charge.setting(Criterion.SOAK_DURATION).orElseThrow().share(Parameters.SoakDuration.POWER_SHARE))
                .isEqualTo(0.5);
    }

    @Test
    void coldStartsAsksThreeTimesEachAndLeavesTheBootsForLast() throws ProcedureException {
        Procedure cold = Shipped.procedure("cold-starts.yaml");

        assertThat(cold.stages().stream().map(Stage::id))
                .containsExactly(
                        "idle",
                        "replug-1",
                        "replug-2",
                        "replug-3",
                        "sleep-1",
                        "sleep-2",
                        "sleep-3",
                        "cold-boot-1",
                        "cold-boot-2",
                        "cold-boot-3",
                        "cool-down");
        assertThat(cold.stages().stream().flatMap(s -> s.asks().stream()))
                .containsExactly(
                        Ask.REPLUG,
                        Ask.REPLUG,
                        Ask.REPLUG,
                        Ask.SLEEP,
                        Ask.SLEEP,
                        Ask.SLEEP,
                        Ask.POWER_OFF,
                        Ask.POWER_OFF,
                        Ask.POWER_OFF);
        assertThat(cold.stages().get(7).duration()).isEqualTo(Duration.ofMinutes(2));
        assertThat(cold.setting(Criterion.COLD_STARTS).orElseThrow().seconds(Parameters.ColdStarts.WITHIN))
                .isEqualTo(120);
    }

    @Test
    void repeatSoakLoadsTheSamePartAgainOnlyWhenItIsCold() throws ProcedureException {
        Procedure repeat = Shipped.procedure("repeat-soak.yaml");

        Stage first = repeat.stages().get(1);
        Stage second = repeat.stages().get(2);
        assertThat(first.asks()).isEmpty();
        assertThat(second.asks()).contains(Ask.COOL_DOWN);
        assertThat(second.loads()).isEqualTo(first.loads());
        assertThat(second.duration()).isEqualTo(first.duration());
        // The load is off between the two: together they are no hour.
        assertThat(repeat.longestStretch(Role.GPU_DISCRETE)).isEqualTo(Duration.ofMinutes(31));
    }

    @Test
    void eachShippedProcedureStatesEveryParameterOfTheCriteriaThatItUses() throws ProcedureException {
        assertThat(Shipped.thresholds()).hasSize(6);
        for (Path file : Shipped.thresholds()) {
            Procedure procedure = Shipped.procedure(file.getFileName().toString());
            assertThat(file.getFileName()).hasToString(procedure.name() + ".yaml");
            for (CriterionSetting setting : procedure.criteria()) {
                assertThat(setting.given().keySet())
                        .as("%s in %s", setting.criterion().word(), file)
                        .containsExactlyInAnyOrderElementsOf(setting.criterion().parameters().stream()
                                .map(Parameter::name)
                                .toList());
            }
        }
    }

    /** A number without a word on where it is from is a number that nobody dares to change. */
    @Test
    void eachNumberInAShippedProcedureSaysWhereItIsFrom() {
        for (Path file : Shipped.thresholds()) {
            List<String> lines = Shipped.text("thresholds", file.getFileName().toString())
                    .lines()
                    .toList();
            for (int i = 0; i < lines.size(); i++) {
                String line = lines.get(i);
                boolean number = line.matches(" *[a-z-]+: [0-9].*");
                boolean zero = line.matches(".*: 0( s)?( #.*)?");
                assertThat(!number
                                || zero
                                || line.contains("#")
                                || lines.get(i - 1).contains("#"))
                        .as("%s line %d: %s", file.getFileName(), i + 1, line)
                        .isTrue();
            }
        }
    }

    private static Stage ifPresent(String id, Role gpu) {
        return new Stage(
                id,
                List.of(LoadKind.GPU_MIX),
                Optional.of(gpu),
                Optional.empty(),
                Duration.ofSeconds(20),
                0,
                true,
                Optional.empty(),
                List.of());
    }

    private static Stage stage(String id, List<LoadKind> loads, Optional<Role> proves, int seconds, double share) {
        return new Stage(id, loads, Optional.empty(), proves, Duration.ofSeconds(seconds), share);
    }
}
