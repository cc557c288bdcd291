// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.ending;

import dev.loadwitness.runlog.Word;

/** What can end a boot, or the agent within one, without the run having come to its end. */
public enum EndCause implements Word {
    /** The supply went: adapter and battery, or a rail that everything hangs on. */
    POWER_LOSS(By.MACHINE),
    /** Everything stood still until somebody switched it off. */
    HARD_HANG(By.MACHINE),
    /** Firmware or chipset reset the machine. */
    FIRMWARE_RESET(By.MACHINE),
    /** A watchdog timer reset the machine. */
    WATCHDOG_RESET(By.MACHINE),
    /** The kernel gave up: a panic. */
    KERNEL_CRASH(By.MACHINE),
    /** A critical temperature switched the machine off. */
    THERMAL_TRIP(By.MACHINE),
    /** The power button was held down until the machine went off. */
    POWER_BUTTON_HELD(By.OPERATOR),
    /** Shut down in order, whoever asked. */
    ORDERLY_SHUTDOWN(By.SYSTEM),
    /** Restarted in order, whoever asked. */
    ORDERLY_RESTART(By.SYSTEM),
    /** The machine ran on; the agent was ended from outside. */
    AGENT_KILLED(By.WITNESS),
    /** The machine ran on; the agent ended by a defect of its own. */
    AGENT_CRASHED(By.WITNESS);

    /** With whom a cause lies. */
    public enum By {
        MACHINE,
        OPERATOR,
        SYSTEM,
        WITNESS
    }

    private final By by;

    EndCause(By by) {
        this.by = by;
    }

    public By by() {
        return by;
    }
}
