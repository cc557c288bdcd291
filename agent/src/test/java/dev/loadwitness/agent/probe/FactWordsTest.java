// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.probe;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.agent.sensor.Missing;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;

final class FactWordsTest {
    private static Map<String, String> facts(String... pairs) {
        Map<String, String> facts = new LinkedHashMap<>();
        for (int i = 0; i < pairs.length; i += 2) {
            facts.put(pairs[i], pairs[i + 1]);
        }
        return facts;
    }

    @Test
    void machineIsOneLineInPlainWords() {
        assertThat(FactWords.lines(facts("make", "Alder Works", "board-serial", "77", "uuid", "ab")))
                .containsExactly("make Alder Works, board serial 77, UUID ab");
    }

    @Test
    void eachPartHasALineOfItsOwn() {
        assertThat(FactWords.lines(facts(
                        "1.role",
                        "gpu-discrete",
                        "1.pci",
                        "10de:2684",
                        "1.power-state",
                        "suspended",
                        "2.role",
                        "gpu-integrated",
                        "bat0.full-design-wh",
                        "90")))
                .containsExactly(
                        "1: gpu-discrete, PCI id 10de:2684, power state suspended",
                        "2: gpu-integrated",
                        "bat0: holds 90 Wh by design");
    }

    @Test
    void whatRootAloneMayReadIsNamedWithItsCost() {
        List<WithoutRoot> lost = WithoutRoot.of(
                List.of(
                        new Missing("CPU energy", "energy_uj: permission denied", "start the agent as root"),
                        new Missing("fan speed", "no driver", "listen")),
                List.of("serial number of the machine"));
        assertThat(WithoutRoot.line(lost))
                .startsWith(
                        "Without root: no CPU energy (soak-duration of the CPU goes by work rate instead of watts);")
                .contains("no serial number of the machine (no criterion")
                .doesNotContain("fan");
    }
}
