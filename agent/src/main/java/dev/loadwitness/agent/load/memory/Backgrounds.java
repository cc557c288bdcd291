// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.memory;

import java.util.List;

/** What march tests of words write, each with its complement. */
public final class Backgrounds {
    /** Every two bits of a word differ in at least one of these. */
    public static final List<Long> OF_64_BITS = List.of(
            0x0000000000000000L,
            0x5555555555555555L,
            0x3333333333333333L,
            0x0F0F0F0F0F0F0F0FL,
            0x00FF00FF00FF00FFL,
            0x0000FFFF0000FFFFL,
            0x00000000FFFFFFFFL);

    private Backgrounds() {}
}
