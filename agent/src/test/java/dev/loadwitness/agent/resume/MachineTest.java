// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.resume;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.Map;
import org.junit.jupiter.api.Test;

final class MachineTest {
    private static final Map<String, String> KESTREL =
            Map.of("make", "Alder Works", "model", "AW-17 Kestrel", "serial", "AWK17-004711");

    @Test
    void aHeaderIsComparedByWhatBothTellAndByNothingThatSaysNothing() {
        assertThat(Machine.difference(KESTREL, Map.of("model", "AW-17 Kestrel")))
                .isEmpty();
        assertThat(Machine.difference(KESTREL, Map.of("serial", "AWK17-009999")))
                .contains("its serial is AWK17-004711, and here it is AWK17-009999");
        assertThat(Machine.difference(Map.of("serial", "Default string"), Map.of("serial", "AWK17-009999")))
                .isEmpty();
        assertThat(Machine.difference(KESTREL, Map.of("model", "AW-15 Merlin"))).isPresent();
    }
}
