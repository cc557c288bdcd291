// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Sample;
import java.util.Map;
import java.util.Optional;
import org.jspecify.annotations.Nullable;

/** What found no room in the queue and is not announced in the log yet. Guarded by the queue's lock. */
final class DroppedSamples {
    private long count;
    private @Nullable Sample first;
    private @Nullable Sample last;

    void add(LogRecord record) {
        if (record instanceof Sample sample) {
            first = first == null ? sample : first;
            last = sample;
        }
        count++;
    }

    /** The event that announces them, which are then forgotten; empty if no sample was dropped. */
    Optional<Event> announce() {
        if (first == null || last == null) {
            return Optional.empty();
        }
        Event event = Event.of(
                last.at(),
                last.utc(),
                EventKind.SAMPLES_DROPPED,
                Map.of(
                        "count",
                        (double) count,
                        "from",
                        first.at().nanos() / 1e9,
                        "to",
                        last.at().nanos() / 1e9));
        count = 0;
        first = null;
        last = null;
        return Optional.of(event);
    }
}
