// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.device;

import dev.loadwitness.runlog.Role;
import java.util.LinkedHashMap;
import java.util.Map;

/**
 * A device that can leave the machine.
 *
 * @param id of its place; the same from boot to boot
 * @param role {@code board} for what is neither input, storage, network nor GPU
 * @param name for people, without serial numbers
 * @param removable made to be pulled out, or not known to be built in
 * @param witness whether the log or this program lies on it
 * @param generation changes when the kernel gives it up and finds it again, however short the time between
 */
record BusDevice(String id, Role role, String name, boolean removable, boolean witness, String generation) {
    Map<String, Object> facts() {
        Map<String, Object> facts = new LinkedHashMap<>();
        facts.put("role", role.word());
        facts.put("device", name);
        facts.put("id", id);
        if (removable) {
            facts.put("removable", true);
        }
        if (witness) {
            facts.put("witness", true);
        }
        return facts;
    }
}
