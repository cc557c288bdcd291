// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import dev.loadwitness.reporter.finding.Outcome;
import java.awt.Color;

/** The few colours of the report. Every one is told apart in grey print too, and none carries meaning alone. */
public final class Ink {
    public static final Color TEXT = new Color(0x1B2327);
    public static final Color QUIET = new Color(0x5A666C);
    public static final Color HAIRLINE = new Color(0xC8CFD2);
    static final Color PALE = new Color(0xF1F4F5);
    public static final Color BAND = new Color(0xE9EEF0);
    public static final Color ACCENT = new Color(0x1D4C5E);
    public static final Color LIMIT = new Color(0x8E1B1B);
    static final Color STAMP = new Color(0xB8867F);

    private Ink() {}

    public static Color of(Outcome outcome) {
        return switch (outcome) {
            case PASS -> new Color(0x17573C);
            case FAIL -> new Color(0x96231B);
            case INCONCLUSIVE, NOT_MEASURED -> new Color(0x74560A);
            case NOT_APPLICABLE -> QUIET;
        };
    }
}
