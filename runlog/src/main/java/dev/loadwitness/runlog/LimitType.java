// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.util.Arrays;
import java.util.Optional;

/** Limits that a device states about itself: {@code hw.limit_type} of the OpenTelemetry hardware conventions. */
public enum LimitType {
    /** Above this the device switches itself off. */
    HIGH_CRITICAL("high.critical"),
    /** Above this the device is outside what its maker wants. */
    HIGH_DEGRADED("high.degraded"),
    /** At this value the device slows itself down. */
    THROTTLED("throttled"),
    /** The highest value the device is made for. */
    MAX("max"),
    LOW_DEGRADED("low.degraded"),
    LOW_CRITICAL("low.critical");

    private final String word;

    LimitType(String word) {
        this.word = word;
    }

    public String word() {
        return word;
    }

    public static Optional<LimitType> find(String word) {
        return Arrays.stream(values()).filter(t -> t.word.equals(word)).findFirst();
    }
}
