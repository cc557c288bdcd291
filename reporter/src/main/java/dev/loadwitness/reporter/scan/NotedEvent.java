// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Event;

/** An event and where it stands. */
public record NotedEvent(At at, Event event) {
    public NotedEvent {
        requireNonNull(at, "at");
        requireNonNull(event, "event");
    }
}
