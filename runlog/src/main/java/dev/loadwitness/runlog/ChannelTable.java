// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import static java.util.Objects.requireNonNull;

import java.util.List;

/** The channels of the samples that follow, in the order of their values. Kernel numbering moves between boots. */
public record ChannelTable(RunTime at, List<Channel> channels) implements LogRecord {
    public ChannelTable {
        requireNonNull(at, "at");
        channels = List.copyOf(channels);
        if (channels.stream().map(Channel::id).distinct().count() != channels.size()) {
            throw new IllegalArgumentException("two channels have the same id");
        }
    }

    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.channels(this);
    }
}
