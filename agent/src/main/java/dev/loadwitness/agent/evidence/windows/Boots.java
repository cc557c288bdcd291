// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.EnumSet;
import java.util.List;
import java.util.Optional;
import java.util.Set;

/**
 * The events of the log, cut where Windows started. A start writes several events within seconds; one that reports the
 * end before (41, 6008) may come before or after the one that says "started", so they are taken together. The order is
 * that of the record numbers: the clock may have been set between, or be wrong by years.
 */
final class Boots {
    private static final Set<Kind> AT_START = EnumSet.of(
            Kind.STARTED,
            Kind.LOG_STARTED,
            Kind.VERSION,
            Kind.DIRTY_SHUTDOWN,
            Kind.UNEXPECTED_RESTART,
            Kind.WATCHDOG_RESET);

    private static final Set<Kind> AT_END = EnumSet.of(Kind.SHUTTING_DOWN, Kind.LOG_STOPPED);

    /** Longer than a start takes, and what lies further apart belongs to two (common practice, no source). */
    private static final Duration START_LASTS = Duration.ofMinutes(3);

    /** Smaller steps back are a clock being corrected, or events written late. */
    private static final Duration CLOCK_STEP = Duration.ofMinutes(10);

    /**
     * One stretch from a start of Windows to the next.
     *
     * @param start the earliest time among the events of its start; empty if it has none, as the oldest may
     */
    record Boot(List<Event> events, Optional<Instant> start) {
        Optional<Event> last(Kind kind) {
            return events.stream().filter(kind::is).reduce((a, b) -> b);
        }
    }

    private final List<Boot> boots = new ArrayList<>();

    Boots(List<Event> events) {
        List<Event> sorted = new ArrayList<>(events);
        sorted.sort(Comparator.comparingLong(Event::recordId));
        List<Event> current = new ArrayList<>();
        Set<Kind> started = EnumSet.noneOf(Kind.class);
        Optional<Instant> start = Optional.empty();
        boolean ended = false;
        for (Event event : sorted) {
            Kind kind = Kind.of(event).orElse(null);
            if (kind != null && AT_START.contains(kind)) {
                boolean sameStart =
                        !ended && !started.isEmpty() && !started.contains(kind) && near(start, event.time());
                if (!sameStart) {
                    close(current, start);
                    current = new ArrayList<>();
                    started.clear();
                    start = Optional.empty();
                    ended = false;
                }
                started.add(kind);
                start = earlier(start, event.time());
            }
            ended |= kind != null && AT_END.contains(kind);
            current.add(event);
        }
        close(current, start);
    }

    private void close(List<Event> events, Optional<Instant> start) {
        if (!events.isEmpty()) {
            boots.add(new Boot(List.copyOf(events), start));
        }
    }

    private static boolean near(Optional<Instant> a, Optional<Instant> b) {
        return a.isEmpty()
                || b.isEmpty()
                || Duration.between(a.get(), b.get()).abs().compareTo(START_LASTS) <= 0;
    }

    private static Optional<Instant> earlier(Optional<Instant> a, Optional<Instant> b) {
        return a.isEmpty() || (b.isPresent() && b.get().isBefore(a.get())) ? b : a;
    }

    int count() {
        return boots.size();
    }

    Boot get(int place) {
        return boots.get(place);
    }

    /** Which boot came first after {@code lastSample}; empty if Windows did not start since then, or it cannot be told. */
    Optional<Integer> firstAfter(Instant lastSample) {
        for (int i = 0; i < boots.size(); i++) {
            if (boots.get(i).start().filter(s -> s.isAfter(lastSample)).isPresent()) {
                return Optional.of(i);
            }
        }
        return clockWentBack() ? Optional.of(boots.size() - 1) : Optional.empty();
    }

    /** Whether the newest boot began at a time that was already over: a flat battery of the clock does that. */
    boolean clockWentBack() {
        if (boots.isEmpty()) {
            return false;
        }
        Optional<Instant> newest = boots.get(boots.size() - 1).start();
        return newest.isPresent()
                && boots.subList(0, boots.size() - 1).stream()
                        .flatMap(b -> b.events().stream())
                        .flatMap(e -> e.time().stream())
                        .anyMatch(t -> t.isAfter(newest.get().plus(CLOCK_STEP)));
    }
}
