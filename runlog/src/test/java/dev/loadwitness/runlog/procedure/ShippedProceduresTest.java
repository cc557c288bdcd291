// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.entry;

import dev.loadwitness.runlog.Role;
import java.time.Duration;
import java.util.List;
import java.util.Optional;
import org.junit.jupiter.api.Test;

final class ShippedProceduresTest {
    @Test
    void quickCheckLoadsProcessorAndMemoryForTwoMinutesAndGoesOnWithoutSensors() throws ProcedureException {
        Procedure quick = Shipped.procedure("quick-check.yaml");

        assertThat(quick.name()).isEqualTo("quick-check");
        assertThat(quick.samplingPeriod()).isEqualTo(Duration.ofSeconds(1));
        assertThat(quick.stages())
                .containsExactly(
                        stage("idle", List.of(), Optional.empty(), 10, 0),
                        stage("cpu-soak", List.of(LoadKind.CPU), Optional.of(Role.CPU), 60, 0),
                        stage("memory-soak", List.of(LoadKind.MEMORY), Optional.empty(), 30, 0.25),
                        stage("cool-down", List.of(), Optional.empty(), 10, 0));
        assertThat(quick.absent()).isEmpty();
        assertThat(quick.safety().stopAboveCelsius()).containsOnly(entry(Role.CPU, 105.0), entry(Role.BATTERY, 45.0));
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
        assertThat(soak.value("at-least")).isEqualTo(50);
        assertThat(soak.value("power-share")).isEqualTo(0.85);
        assertThat(soak.origin("at-least")).isEqualTo("procedure");
    }

    private static Stage stage(String id, List<LoadKind> loads, Optional<Role> proves, int seconds, double share) {
        return new Stage(id, loads, Optional.empty(), proves, Duration.ofSeconds(seconds), share);
    }
}
