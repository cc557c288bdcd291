// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/** Whether a channel accumulates since some start, or is a reading of the moment. */
public enum ChannelKind implements Word {
    /** Accumulates; only differences mean something, and a decrease is a reset or a wrap. */
    COUNTER,
    /** A reading of the moment. */
    GAUGE
}
