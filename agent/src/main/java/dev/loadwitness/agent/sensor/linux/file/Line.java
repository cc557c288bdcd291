// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.file;

import dev.loadwitness.runlog.Channel;

/** A channel and how it is read. */
public record Line(Channel channel, Value value) {}
