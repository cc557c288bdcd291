// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Safety;
import java.time.Duration;
import java.util.EnumSet;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import org.junit.jupiter.api.Test;

/** The procedure stops above 92 °C of the discrete GPU and 105 °C of the processor. */
final class GuardTest {
    private static final Safety SAFETY =
            new Safety(Map.of(Role.GPU_DISCRETE, 92.0, Role.CPU, 105.0), Duration.ofSeconds(10), true, false);
    private static final Set<Role> LOADED = EnumSet.of(Role.GPU_DISCRETE, Role.CPU);

    private static Channel temperature(String id, Role role, Map<LimitType, Double> limits) {
        return Channel.of(id, Metric.TEMPERATURE, role, "made-up").withLimits(limits);
    }

    private static Channel core() {
        return temperature(
                "gpu.core.temperature",
                Role.GPU_DISCRETE,
                Map.of(LimitType.THROTTLED, 89.0, LimitType.HIGH_CRITICAL, 95.0, LimitType.MAX, 87.0));
    }

    private static Guard guard(Channel... channels) {
        return new Guard(SAFETY, List.of(channels));
    }

    private static Optional<String> why(Guard guard, double... values) {
        return guard.look(0, values, LOADED).map(Guard.Stop::detail);
    }

    @Test
    void theChipOfAGpuIsGuardedByTheProceduresCeilingWhateverItStates() {
        assertThat(why(guard(core()), 92)).isEmpty();
        assertThat(why(guard(core()), 92.5))
                .hasValue("gpu.core.temperature reads 92.5 °C, above the safety ceiling of 92.0 °C");
    }

    @Test
    void theMemoryOfAGpuIsGuardedByItsOwnLimitAndNotByTheChips() {
        Channel memory = temperature("gpu.memory.temperature", Role.GPU_DISCRETE, Map.of(LimitType.THROTTLED, 105.0));
        assertThat(why(guard(core(), memory), 80, 104)).isEmpty();
        assertThat(why(guard(core(), memory), 80, 106))
                .hasValue("gpu.memory.temperature reads 106.0 °C, above the device's own limit of 105.0 °C");
    }

    @Test
    void theLimitAtWhichItSwitchesOffGoesBeforeTheOneAtWhichItSlows() {
        Channel hotSpot = temperature(
                "gpu.junction.temperature",
                Role.GPU_DISCRETE,
                Map.of(LimitType.THROTTLED, 105.0, LimitType.HIGH_CRITICAL, 110.0));
        assertThat(why(guard(core(), hotSpot), 80, 109)).isEmpty();
        assertThat(why(guard(core(), hotSpot), 80, 111)).isPresent();
    }

    @Test
    void aMemoryThatStatesNoLimitGuardsNothing() {
        Channel memory = temperature("gpu.memory.temperature", Role.GPU_DISCRETE, Map.of());
        Guard guard = guard(core(), memory);
        assertThat(why(guard, Double.NaN, 130)).isEmpty();
        assertThat(guard.unguarded(EnumSet.of(Role.GPU_DISCRETE))).containsExactly(Role.GPU_DISCRETE);
        assertThat(why(guard, 80, 130)).isEmpty();
        assertThat(guard.unguarded(EnumSet.of(Role.GPU_DISCRETE))).isEmpty();
    }

    @Test
    void ofTwoGpusEachHasAChip() {
        Channel first = core().withComponent("0000:01:00.0", "");
        Channel second = temperature("gpu-2.core.temperature", Role.GPU_DISCRETE, Map.of())
                .withComponent("0000:02:00.0", "");
        assertThat(why(guard(first, second), 80, 93)).isPresent();
    }

    @Test
    void everyCoreOfAProcessorIsGuardedByTheProceduresCeiling() {
        Map<LimitType, Double> limits = Map.of(LimitType.THROTTLED, 100.0);
        Guard guard = guard(
                temperature("cpu.package.temperature", Role.CPU, limits),
                temperature("cpu.core0.temperature", Role.CPU, limits));
        assertThat(why(guard, 104, 104)).isEmpty();
        assertThat(why(guard, 104, 106)).isPresent();
    }
}
