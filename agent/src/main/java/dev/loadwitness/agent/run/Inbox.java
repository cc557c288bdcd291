// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import java.util.Map;
import java.util.Optional;
import java.util.Queue;
import java.util.concurrent.ConcurrentLinkedQueue;
import java.util.concurrent.atomic.AtomicReference;

/** What other threads want of a run, until its next step. */
final class Inbox {
    private final Queue<Told> told = new ConcurrentLinkedQueue<>();
    private final AtomicReference<StopRequest> stop = new AtomicReference<>();

    private record Told(EventKind kind, Map<String, Object> facts) {}

    record StopRequest(CloseReason reason, String detail) {}

    void tell(EventKind kind, Map<String, Object> facts) {
        told.add(new Told(kind, Map.copyOf(facts)));
    }

    /** The first request counts. */
    void requestStop(CloseReason reason, String detail) {
        stop.compareAndSet(null, new StopRequest(reason, detail));
    }

    Optional<StopRequest> stop() {
        return Optional.ofNullable(stop.get());
    }

    void writeTold(Records records) {
        for (Told t = told.poll(); t != null; t = told.poll()) {
            records.event(t.kind, t.facts);
        }
    }
}
