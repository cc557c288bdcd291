// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import java.util.Locale;

/**
 * What a launch does and in how many pieces.
 *
 * @param traffic whether memory is read and written
 * @param cycles of multiply-adds between one step of memory traffic (64 bytes an item) and the next
 * @param group items in a work-group
 * @param groups work-groups
 */
record Setting(boolean traffic, int cycles, int group, int groups) {
    int items() {
        return group * groups;
    }

    String describe() {
        String what = !traffic
                ? "multiply-adds only"
                : cycles == 0 ? "memory traffic only" : cycles + " cycles of multiply-adds each 64 bytes";
        return String.format(Locale.ROOT, "%s, %d groups of %d", what, groups, group);
    }
}
