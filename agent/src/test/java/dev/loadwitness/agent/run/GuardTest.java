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

    private static Channel fan(String id) {
        return Channel.of(id, Metric.FAN_SPEED, Role.FAN, "made-up");
    }

    /** Looks once a second; the second after which the load comes off, or −1. */
    private static int stopped(Guard guard, Set<Role> loaded, int seconds, double... values) {
        for (int s = 0; s <= seconds; s++) {
            Optional<Guard.Stop> stop = guard.look(s * 1_000_000_000L, values, loaded);
            if (stop.isPresent()) {
                assertThat(stop.get().why()).isEqualTo("fan");
                return s;
            }
        }
        return -1;
    }

    @Test
    void aFanThatTurnedAndStandsStillWhileItsChipIsHotTakesTheLoadOff() {
        Guard guard = guard(core(), fan("fan.board.gpu-fan.speed"));
        assertThat(stopped(guard, LOADED, 5, 84, 3000)).isEqualTo(-1);
        assertThat(stopped(guard, LOADED, 60, 84, 0)).isEqualTo(20);
        assertThat(guard.look(100_000_000_000L, new double[] {84, 0}, LOADED).map(Guard.Stop::detail))
                .hasValue("fan.board.gpu-fan.speed stands still while what it cools is at 84.0 °C");
    }

    @Test
    void aFanThatNeverTurnedOrIsColdOrDoesNotAnswerTakesNothingOff() {
        assertThat(stopped(guard(core(), fan("fan.gpu.speed")), LOADED, 60, 84, 0))
                .isEqualTo(-1);
        Guard cold = guard(core(), fan("fan.gpu.speed"));
        cold.look(0, new double[] {84, 3000}, LOADED);
        assertThat(stopped(cold, LOADED, 60, 60, 0)).isEqualTo(-1);
        assertThat(stopped(cold, LOADED, 60, 84, Double.NaN)).isEqualTo(-1);
        assertThat(stopped(cold, Set.of(), 60, 84, 0)).as("no load to take off").isEqualTo(-1);
    }

    @Test
    void aFanThatTurnsAgainBeginsAnew() {
        Guard guard = guard(core(), fan("fan.gpu.speed"));
        stopped(guard, LOADED, 0, 84, 3000);
        assertThat(stopped(guard, LOADED, 19, 84, 0)).isEqualTo(-1);
        stopped(guard, LOADED, 0, 84, 2000);
        assertThat(stopped(guard, LOADED, 19, 84, 0)).isEqualTo(-1);
    }

    @Test
    void aFanThatDoesNotSayWhatItCoolsStallsOnlyWhenEveryChipIsHot() {
        Channel cpu = temperature("cpu.package.temperature", Role.CPU, Map.of());
        Guard guard = guard(core(), cpu, fan("fan.board.fan1.speed"));
        guard.look(0, new double[] {84, 84, 2500}, LOADED);
        assertThat(stopped(guard, LOADED, 60, 84, 55, 0)).isEqualTo(-1);
        assertThat(stopped(guard, LOADED, 60, 84, 84, 0)).isEqualTo(20);
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
