// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/** Why a device holds itself back. Vendor bits are translated into these by the sensor that reads them. */
public enum Cause implements Word {
    /** A temperature limit, by software or hardware. */
    HEAT,
    /** An external power brake or fast power trigger: the board asked for it, not the ordinary limit. */
    POWER_BRAKE,
    /** A hardware slowdown that names no cause of its own. */
    HARDWARE_SLOWDOWN,
    /** The ordinary power limit. Expected under full load. */
    POWER_CAP
}
