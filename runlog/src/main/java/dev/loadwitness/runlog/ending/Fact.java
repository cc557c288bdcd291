// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.ending;

import dev.loadwitness.runlog.Word;

/**
 * The facts of a {@code boot-evidence} record that classifying reads; "that boot" is the one that ended, "this boot" the
 * next one. Where values are words, they are of {@link Found}. A fact that is absent was not learned, and never excludes
 * anything. What a person may want to read and nothing is decided by is in {@link #CRASH_RECORD}, {@link #RESET_TEXT} and
 * {@link #NOT_LEARNED}.
 */
public enum Fact implements Word {
    /** Whether the machine is still in the boot in which the log ended: {@code yes}, {@code no}. */
    SAME_BOOT,
    /**
     * How the system's own log of that boot, the persistent journal, ends: {@code shutdown}, {@code restart}, {@code
     * stopped} (in order, which of the two is not told), {@code none} (there are records of that boot, and none of a
     * shutdown).
     */
    SYSTEM_LOG,
    /**
     * Seconds from the last durable sample to the last entry of that log, a decimal number, negative if it is older. Only
     * where the clock was right.
     */
    SYSTEM_LOG_SECONDS,
    /** What the record of logins has between that boot and this one (wtmp): {@code shutdown}, {@code none}. */
    LOGIN_RECORDS,
    /** Who asked for an orderly end: {@code power-button} (pressed, not held), {@code user} (a person or a program), {@code thermal}. */
    ASKED_BY,
    /** The kernel's message that a critical temperature shuts the machine down, in the log of that boot: {@code yes}, {@code no}. */
    THERMAL_MESSAGE,
    /** That log says that the machine went to sleep, and not that it woke: {@code yes}, {@code no}. */
    ASLEEP,
    /**
     * The place where a dying kernel leaves a record (pstore): {@code empty} (it was
     * there and holds nothing), {@code panic}, {@code oops} (a fault after which a kernel may go on), {@code
     * hardware-error}, {@code old} (only records from before the last durable sample), {@code undated} (records whose age
     * is not known).
     */
    CRASH_STORE,
    /** What the crash record calls itself: text. */
    CRASH_RECORD,
    /**
     * Status at boot of the watchdog, as its driver tells: {@code reset}, {@code overheat}, {@code under-voltage},
     * {@code none} (it reports no reset; not every driver can), {@code absent} (no watchdog was found).
     */
    WATCHDOG,
    /**
     * Why firmware or chipset say they reset the machine, comma-separated: {@code thermal}, {@code watchdog},
     * {@code power-button}, {@code hardware-error}, {@code reset-line}, {@code under-voltage}, {@code software},
     * {@code other}; {@code none} if the register was read and says nothing.
     */
    RESET_REASON,
    /** The same as told at the start of that boot: reasons can be left over from an earlier reset. */
    RESET_REASON_BEFORE,
    /** The reset reasons in the words of their source: text. */
    RESET_TEXT,
    /** What firmware kept of hardware errors of that boot (ACPI BERT): {@code fatal}, {@code corrected}, {@code none}. */
    HARDWARE_ERROR,
    /** {@code held}: the system was told that the power button was held down. */
    POWER_BUTTON,
    /** Seconds from the last durable sample to the start of this boot, a decimal number. Only where both clocks were right. */
    OFF_SECONDS,
    /** Whether the agent's Java left a crash report where it writes one: {@code report}, {@code none}. */
    AGENT_CRASH,
    /** {@code out-of-memory}: the kernel says that it killed the agent for memory. */
    AGENT_KILLED,
    /** What could not be learned and why, for people: text. */
    NOT_LEARNED
}
