// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.follow;

import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.LogLimits;
import java.util.LinkedHashMap;
import java.util.Map;

/** An event and where it stands. */
public record NotedEvent(At at, Event event) {
    /** The same, or if its texts are longer or its facts more than are kept, what is kept of it. */
    public NotedEvent cut() {
        boolean fits = event.kind().length() <= LogLimits.EVENT_TEXT_CHARS
                && event.facts().size() <= LogLimits.EVENT_FACTS
                && event.facts().entrySet().stream()
                        .allMatch(f -> f.getKey().length() <= LogLimits.EVENT_TEXT_CHARS
                                && f.getValue().toString().length() <= LogLimits.EVENT_TEXT_CHARS);
        if (fits) {
            return this;
        }
        Map<String, Object> kept = new LinkedHashMap<>();
        event.facts().entrySet().stream()
                .limit(LogLimits.EVENT_FACTS)
                .forEach(
                        f -> kept.put(cut(f.getKey()), f.getValue() instanceof String text ? cut(text) : f.getValue()));
        return new NotedEvent(at, new Event(event.at(), event.utc(), cut(event.kind()), kept));
    }

    private static String cut(String text) {
        return text.length() <= LogLimits.EVENT_TEXT_CHARS ? text : text.substring(0, LogLimits.EVENT_TEXT_CHARS) + "…";
    }

    /** About as many letters as it takes to keep it. */
    public long chars() {
        return 100
                + event.kind().length()
                + event.facts().entrySet().stream()
                        .mapToLong(f ->
                                50L + f.getKey().length() + (f.getValue() instanceof String text ? text.length() : 0))
                        .sum();
    }
}
