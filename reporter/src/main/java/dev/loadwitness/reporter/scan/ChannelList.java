// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.reporter.scan.follow.Room;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.LogLimits;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;

/** The channels of all tables of a run, each as it was listed first. */
final class ChannelList {
    private static final long CHANNEL_BYTES = 500;

    private final Room room;
    private final Map<String, Channel> channels = new LinkedHashMap<>();
    private long tableEntries;

    ChannelList(Room room) {
        this.room = room;
    }

    void add(ChannelTable table) {
        tableEntries += table.channels().size();
        Room.check(table.channels().size(), LogLimits.CHANNELS, "channels");
        Room.check(tableEntries, LogLimits.CHANNELS_OF_ALL_TABLES, "channels in all its channel tables together");
        for (Channel c : table.channels()) {
            channels.putIfAbsent(c.id(), c);
            Room.check(channels.size(), LogLimits.CHANNELS, "channels");
            room.take(CHANNEL_BYTES + 2L * textChars(c));
        }
    }

    List<Channel> all() {
        return List.copyOf(channels.values());
    }

    /** Of the texts that a channel brings along; a hostile log's are long. */
    private static long textChars(Channel c) {
        return (long) c.id().length()
                + c.metric().name().length()
                + c.metric().unit().length()
                + c.component().length()
                + c.label().length()
                + c.source().length();
    }
}
