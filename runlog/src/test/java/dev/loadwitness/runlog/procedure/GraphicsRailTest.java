// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.procedure;

import static dev.loadwitness.runlog.procedure.GraphicsRail.GRAPHICS_CORE;
import static dev.loadwitness.runlog.procedure.GraphicsRail.GRAPHICS_MEMORY;
import static org.assertj.core.api.Assertions.assertThat;

import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

final class GraphicsRailTest {
    @ParameterizedTest
    @ValueSource(
            strings = {
                "graphics-core",
                "graphics core",
                " Graphics  Core ",
                "GRAPHICS_CORE",
                "graphics core rail",
                "graphics core, main 5 V",
                "PU3 (power stage) / graphics-core"
            })
    void aRailIsNamedHoweverItsWordIsWritten(String text) {
        assertThat(GraphicsRail.named(text)).containsExactly(GRAPHICS_CORE);
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "graphics core, graphics memory",
                "graphics-memory and graphics-core rails",
                "graphics core + graphics memory",
                "Graphics memory rail;graphics core rail"
            })
    void severalAreNamedTogether(String text) {
        assertThat(GraphicsRail.named(text)).containsExactly(GRAPHICS_CORE, GRAPHICS_MEMORY);
    }

    /** What an old sheet or another trade's word says is kept as it is, and changes nothing. */
    @ParameterizedTest
    @ValueSource(
            strings = {
                "",
                "   ",
                ",,and,",
                "main 5 V",
                "core",
                "graphics",
                "graphic core",
                "graphics core enable line",
                "the one beside the connector, see photograph 4",
                "图形核心"
            })
    void anyOtherTextNamesNone(String text) {
        assertThat(GraphicsRail.named(text)).isEmpty();
    }

    @Test
    void aMisspeltOneIsRecognisedAsMeantAndNothingElseIs() {
        assertThat(GraphicsRail.near("graphic core")).contains(GRAPHICS_CORE);
        assertThat(GraphicsRail.near("main 5 V, grafics memory")).contains(GRAPHICS_MEMORY);
        assertThat(GraphicsRail.near("main 5 V")).isEmpty();
        assertThat(GraphicsRail.near("")).isEmpty();
    }
}
