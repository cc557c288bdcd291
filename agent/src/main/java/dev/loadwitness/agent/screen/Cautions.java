// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.screen;

import java.util.List;

/** What is said before a load starts. */
public final class Cautions {
    public static final List<String> LINES = List.of(
            "Before the load starts:",
            " - A swollen, leaking or damaged battery: no run. Take it out of use, and no ordinary post.",
            " - The first full load after a power-stage repair is attended, on a surface that cannot burn,",
            "   with heatsink and pads fitted and vents clear. Software cannot outrun a shorted MOSFET.",
            " - Surfaces and exhaust air get hot. Mains adapters and scope earth clips can kill.",
            " - Local codes and licensed practice come first.",
            "Ctrl-C takes the load off at once and closes the log properly.");

    private Cautions() {}
}
