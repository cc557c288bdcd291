// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import java.util.Locale;

/**
 * Something in the list beside the charts that they can be moved to.
 *
 * @param from and {@code to}: seconds since the start of the segment; the same for what has no length
 */
record Moment(Weight weight, int segment, double from, double to, String title, String detail) {
    /** How much it matters to someone who looks for a cause; each has its own mark. */
    enum Weight {
        FAULT,
        NOTICE,
        DETAIL;

        String word() {
            return name().toLowerCase(Locale.ROOT);
        }
    }
}
