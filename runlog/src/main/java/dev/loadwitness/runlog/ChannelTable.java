// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.util.List;
import java.util.function.Predicate;
import java.util.stream.IntStream;

/** The channels of the samples that follow, in the order of their values. Kernel numbering moves between boots. */
public record ChannelTable(RunTime at, List<Channel> channels) implements LogRecord {
    /** Before any is read: no channels. */
    public static final ChannelTable NONE = new ChannelTable(new RunTime(0, 0), List.of());

    public ChannelTable {
        channels = List.copyOf(channels);
        if (channels.stream().map(Channel::id).distinct().count() != channels.size()) {
            throw new IllegalArgumentException("two channels have the same id");
        }
    }

    /** Place of the first channel that measures that of the part; −1 if there is none. */
    public int find(Role role, Metric metric) {
        for (int i = 0; i < channels.size(); i++) {
            if (channels.get(i).is(role, metric)) {
                return i;
            }
        }
        return -1;
    }

    /** Places of all channels of that sort, in order. */
    public int[] places(Predicate<Channel> sort) {
        return IntStream.range(0, channels.size())
                .filter(i -> sort.test(channels.get(i)))
                .toArray();
    }

    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.channels(this);
    }
}
