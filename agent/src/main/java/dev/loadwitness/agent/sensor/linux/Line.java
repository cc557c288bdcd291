// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Channel;

/** A channel and how it is read. */
record Line(Channel channel, Value value) {
    Line {
        requireNonNull(channel, "channel");
        requireNonNull(value, "value");
    }
}
