// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.evidence.Evidence;
import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.agent.evidence.Quality;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/**
 * What the system event log of Windows says about how the boot of the last sample ended: facts only, and "not learned"
 * where it says nothing. <b>Tried on event texts, never on a Windows machine.</b> Names no person and no computer.
 */
public final class WindowsEvidence implements Evidence {
    /** Sleep, wake and start leave about ten events a boot; enough for a restart loop of a night. */
    private static final int END_EVENTS_MOST = 400;

    private static final int HARDWARE_EVENTS_MOST = 100;

    private final SystemLog log;
    private final Duration limit;

    /**
     * Of this machine's log; loads nothing yet.
     *
     * @param systemRoot the folder of Windows, absolute
     * @param limit how long each of two questions to the log may take
     */
    public WindowsEvidence(Path systemRoot, Duration limit) {
        this(new WindowsEventLog(systemRoot), limit);
    }

    WindowsEvidence(SystemLog log, Duration limit) {
        this.log = requireNonNull(log, "log");
        this.limit = requireNonNull(limit, "limit");
    }

    @Override
    public Map<String, String> gather(LastBoot last) {
        return facts(last.comparable());
    }

    @Override
    public List<Quality> quality() {
        SystemLog.Answer answer = log.newest(Kind.endQuery(), 1, limit);
        boolean there = !answer.events().isEmpty();
        String found = there ? "it answers" : "not learned: " + answer.notLearned();
        return List.of(new Quality(
                "system event log", there, found, there ? "" : "without it every cause of an interruption stays open"));
    }

    /**
     * Asks the log, twice, within the limit for each. Never throws.
     *
     * @param lastSample time of the last durable sample, by the wall clock; empty if that clock was not trusted: then the
     *     end before the newest start is taken
     * @return names and texts in a fixed order; see {@code docs/windows.md}
     */
    Map<String, String> facts(Optional<Instant> lastSample) {
        Taken ends = take(Kind.endQuery(), END_EVENTS_MOST);
        Taken hardware = take(Kind.hardwareQuery(), HARDWARE_EVENTS_MOST);
        return EndFacts.of(ends, hardware, lastSample);
    }

    /**
     * What was read of one answer.
     *
     * @param notLearned why some are missing; empty if none are
     * @param full there may be more, older ones
     */
    record Taken(List<Event> events, String notLearned, boolean full) {
        Taken {
            events = List.copyOf(events);
        }
    }

    private Taken take(String query, int most) {
        SystemLog.Answer answer = log.newest(query, most, limit);
        List<Event> events = new ArrayList<>();
        Map<String, Integer> unreadable = new LinkedHashMap<>();
        for (String xml : answer.events()) {
            try {
                events.add(EventXml.read(xml));
            } catch (UnreadableEvent e) {
                unreadable.merge(e.getMessage(), 1, Integer::sum);
            }
        }
        List<String> why = new ArrayList<>();
        if (!answer.notLearned().isEmpty()) {
            why.add(answer.notLearned());
        }
        unreadable.forEach((reason, count) -> why.add(count + (count == 1 ? " event: " : " events: ") + reason));
        return new Taken(events, String.join("; ", why), answer.events().size() >= most);
    }
}
