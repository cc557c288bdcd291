// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import static java.util.Objects.requireNonNull;

import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/**
 * One event of the system log, in the words of the vendor's event schema ("SystemPropertiesType", "EventDataType").
 *
 * @param provider who wrote it; numbers repeat across providers, so both together say what it is
 * @param level 1 critical, 2 error, 3 warning, 4 information; 0 if absent
 * @param time by the machine's own clock, which may be wrong by years; empty if absent or unreadable
 * @param recordId counts up in the order of writing; 0 if absent
 * @param user security identifier of who wrote it, as "S-1-5-18" for the system itself; empty if absent
 * @param named the data that have names
 * @param values all data in their order, named or not
 * @param binary what older providers add, in hexadecimal digits; empty if absent
 */
record Event(
        String provider,
        int id,
        int level,
        Optional<Instant> time,
        long recordId,
        String user,
        Map<String, String> named,
        List<String> values,
        String binary) {
    Event {
        requireNonNull(provider, "provider");
        requireNonNull(time, "time");
        requireNonNull(user, "user");
        named = Map.copyOf(named);
        values = List.copyOf(values);
        requireNonNull(binary, "binary");
    }

    Optional<String> data(String name) {
        return Optional.ofNullable(named.get(name)).map(String::strip).filter(v -> !v.isEmpty());
    }

    /** By place, from 0, as events without names have it. */
    Optional<String> data(int place) {
        return place < values.size()
                ? Optional.of(values.get(place).strip()).filter(v -> !v.isEmpty())
                : Optional.empty();
    }
}
