// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import java.util.Locale;

/**
 * A button that moves the charts.
 *
 * @param from and {@code to}: seconds since the start of the segment
 * @param chart the key of the chart to look at; empty if none does more than another
 */
record Jump(int run, int segment, double from, double to, String chart, String text) {
    String fromSeconds() {
        return millis(Math.max(0, from));
    }

    String toSeconds() {
        return millis(to);
    }

    /** Seconds to the millisecond, as the script reads them. */
    static String millis(double seconds) {
        return String.format(Locale.ROOT, "%.3f", seconds);
    }
}
