// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor;

/** Whether a GPU that sleeps, or is used to sleeping, may be asked. Parts that never sleep are always asked. */
public enum Wake {
    /** Never: its own sensors are not offered. */
    NEVER,
    /** It is woken once, to learn what it offers, and then only while {@link Source#allowWaking} allows it. */
    WHEN_ALLOWED,
    /** If it is awake when sensors are sought it is asked from then on, which keeps it awake; if it sleeps it is left. */
    IF_AWAKE
}
