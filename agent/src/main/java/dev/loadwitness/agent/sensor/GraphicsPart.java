// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

import dev.loadwitness.runlog.Role;

/**
 * A graphics part on the system's bus, as the system knows it without asking the part.
 *
 * @param address on the bus, for example {@code 0000:01:00.0}
 * @param vendor the bus's number for its maker, four lower-case hexadecimal digits
 */
public record GraphicsPart(String address, String vendor, Role role, Sleep sleep) {
    /** What the system knows of a part's sleep. Answers at once, and wakes nothing. */
    public interface Sleep {
        /** Of a part that the system never puts to sleep. */
        Sleep NEVER = new Sleep() {
            @Override
            public boolean isAsleep() {
                return false;
            }

            @Override
            public boolean isDisturbedByAsking() {
                return false;
            }
        };

        /** Whether it sleeps now, or is about to; true where that cannot be read. */
        boolean isAsleep();

        /** Whether asking it would wake it, or keep it from the sleep that it is used to. */
        boolean isDisturbedByAsking();
    }
}
