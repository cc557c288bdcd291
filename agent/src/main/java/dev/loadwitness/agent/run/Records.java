// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/** What a run writes: each record with its time, and counted for the last one. */
final class Records {
    private final Sink sink;
    private final RunClock clock;
    private final int segment;
    private long samples;
    private long events;

    Records(Sink sink, RunClock clock, Run.Beginning beginning) {
        this.sink = sink;
        this.clock = clock;
        this.segment = beginning.segment();
        this.samples = beginning.samples();
        this.events = beginning.events();
    }

    private RunTime at() {
        return new RunTime(segment, clock.nanos());
    }

    void begin(String bootId, boolean utcTrusted, List<Channel> channels) {
        RunTime at = at();
        sink.append(new Boot(at, clock.wallClock(), bootId, clock.bootTimeSeconds(), utcTrusted, Optional.empty()));
        sink.append(new ChannelTable(at, channels));
    }

    /** After an interruption; the boot record was written before anything else. */
    void goOn(List<Channel> channels) {
        sink.append(new ChannelTable(at(), channels));
    }

    void sample(long now, double[] values) {
        sink.append(new Sample(new RunTime(segment, now), clock.wallClock(), values));
        samples++;
    }

    void event(EventKind kind, Object... namesAndValues) {
        event(kind, facts(namesAndValues));
    }

    void event(EventKind kind, Map<String, Object> facts) {
        sink.append(Event.of(at(), clock.wallClock(), kind, facts));
        events++;
    }

    void close(CloseReason reason, String detail) {
        sink.append(new Close(at(), clock.wallClock(), reason.word(), detail, samples, events));
    }

    static Map<String, Object> facts(Object... namesAndValues) {
        Map<String, Object> facts = new LinkedHashMap<>();
        for (int i = 0; i < namesAndValues.length; i += 2) {
            facts.put((String) namesAndValues[i], namesAndValues[i + 1]);
        }
        return facts;
    }
}
