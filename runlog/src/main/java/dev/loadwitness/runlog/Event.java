// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

import java.time.Instant;
import java.util.Collections;
import java.util.LinkedHashMap;
import java.util.Map;
import java.util.Optional;

/**
 * Something that happened. The agent records facts; only the reporter makes episodes of them.
 *
 * @param kind a word of {@link EventKind}, or one that this version does not know
 * @param facts named values: {@link String}, {@link Boolean}, or a finite {@link Double}
 */
public record Event(RunTime at, Instant utc, String kind, Map<String, Object> facts) implements LogRecord {
    private static final double LARGEST = 1e15;

    public Event {
        facts = Collections.unmodifiableMap(new LinkedHashMap<>(facts));
        facts.forEach((name, value) -> {
            boolean known = value instanceof String
                    || value instanceof Boolean
                    || (value instanceof Double number && Double.isFinite(number));
            if (!known) {
                throw new IllegalArgumentException("event " + kind + ": fact '" + name + "' is " + value
                        + "; facts are text, true or false, or a finite number");
            }
        });
    }

    public static Event of(RunTime at, Instant utc, EventKind kind, Map<String, Object> facts) {
        return new Event(at, utc, kind.word(), facts);
    }

    public Optional<EventKind> known() {
        return Word.find(EventKind.class, kind);
    }

    /** A fact as text; empty if it is absent. */
    public String text(String name) {
        Object value = facts.get(name);
        return value == null ? "" : value.toString();
    }

    /** A fact as a number; NaN if it is absent or not a number, or one beyond any quantity, which says nothing. */
    public double number(String name) {
        return facts.get(name) instanceof Double number && Math.abs(number) <= LARGEST ? number : Double.NaN;
    }

    @Override
    public <R> R accept(Handler<R> handler) {
        return handler.event(this);
    }
}
