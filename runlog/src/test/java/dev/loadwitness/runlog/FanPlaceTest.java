// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.Optional;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

final class FanPlaceTest {
    @ParameterizedTest(name = "{0} ({1}): {2}")
    @CsvSource({
        "fan.board.fan1.speed, GPU Fan, gpu-discrete",
        "fan.board.cpu-fan.speed, '', cpu",
        "fan.amdgpu.fan1.speed, '', gpu-discrete",
        "fan.board.fan1.speed, Processor Fan, cpu",
        "fan.board.fan1.speed, '', ''",
        "fan.board.fan1.speed, CPU and GPU, ''",
    })
    void aFanCoolsTheChipThatItsNameSays(String id, String label, String chip) {
        Channel fan = Channel.of(id, Metric.FAN_SPEED, Role.FAN, "hwmon").withComponent("", label);
        assertThat(FanPlace.cools(fan).map(Word::word).orElse("")).isEqualTo(chip);
    }

    @Test
    void theProcessorsOwnGraphicsAreThePieceThatItsFanCools() {
        assertThat(FanPlace.chip(Channel.of("a", Metric.TEMPERATURE, Role.GPU_INTEGRATED, "hwmon")))
                .isEqualTo(Optional.of(Role.CPU));
        assertThat(FanPlace.chip(Channel.of("a", Metric.TEMPERATURE, Role.BATTERY, "hwmon")))
                .isEmpty();
        assertThat(FanPlace.chip(Channel.of("a", Metric.POWER, Role.CPU, "hwmon")))
                .isEmpty();
    }
}
