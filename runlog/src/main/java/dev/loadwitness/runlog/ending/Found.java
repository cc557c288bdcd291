// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.ending;

import dev.loadwitness.runlog.Word;

/** The words that a {@link Fact} can hold; which of them is said there. */
public enum Found implements Word {
    YES,
    NO,
    NONE,
    ABSENT,
    SHUTDOWN,
    RESTART,
    STOPPED,
    EMPTY,
    PANIC,
    OOPS,
    OLD,
    UNDATED,
    RESET,
    OVERHEAT,
    THERMAL,
    WATCHDOG,
    POWER_BUTTON,
    HARDWARE_ERROR,
    RESET_LINE,
    UNDER_VOLTAGE,
    SOFTWARE,
    OTHER,
    FATAL,
    CORRECTED,
    HELD,
    USER,
    REPORT,
    OUT_OF_MEMORY
}
