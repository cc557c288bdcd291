// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.runlog.LogLimits;
import java.util.ArrayList;
import java.util.List;

/** The events of a run: the first of them, as many as a log within its limits can have, and how many there were. */
final class EventList {
    private final List<NotedEvent> first = new ArrayList<>();
    private long chars;
    private long count;

    void add(NotedEvent noted) {
        count++;
        if (first.size() < LogLimits.EVENTS && chars + noted.chars() <= LogLimits.EVENT_CHARS) {
            chars += noted.chars();
            first.add(noted);
        }
    }

    List<NotedEvent> first() {
        return first;
    }

    long count() {
        return count;
    }
}
