// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Sample;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.stream.IntStream;

/** A run held in memory, with questions that tests ask. */
final class Played {
    final List<LogRecord> records = new ArrayList<>();

    static Played of(Scenario scenario) {
        return of(Simulation.of(scenario));
    }

    static Played of(Simulation simulation) {
        Played played = new Played();
        simulation.play(played.records::add);
        return played;
    }

    Header header() {
        return (Header) records.get(0);
    }

    List<Channel> channels() {
        return all(ChannelTable.class).get(0).channels();
    }

    List<Sample> samples() {
        return all(Sample.class);
    }

    List<Event> events(EventKind kind) {
        return all(Event.class).stream()
                .filter(e -> e.known().equals(Optional.of(kind)))
                .toList();
    }

    Optional<Close> close() {
        return all(Close.class).stream().findFirst();
    }

    private <T> List<T> all(Class<T> kind) {
        return records.stream().filter(kind::isInstance).map(kind::cast).toList();
    }

    int index(String channel) {
        List<Channel> channels = channels();
        return IntStream.range(0, channels.size())
                .filter(i -> channels.get(i).id().equals(channel))
                .findFirst()
                .orElseThrow();
    }

    /** Values of a channel in the samples from {@code fromSeconds} up to {@code toSeconds}. */
    double[] values(String channel, double fromSeconds, double toSeconds) {
        int i = index(channel);
        return samples().stream()
                .filter(s -> s.at().seconds() >= fromSeconds && s.at().seconds() < toSeconds)
                .mapToDouble(s -> s.values()[i])
                .toArray();
    }

    double[] values(String channel) {
        return values(channel, 0, Double.POSITIVE_INFINITY);
    }

    /** Values while the stage ran. */
    double[] during(String stage, String channel) {
        double from = time(EventKind.STAGE_BEGIN, stage);
        return values(channel, from, time(EventKind.STAGE_END, stage));
    }

    private double time(EventKind kind, String stage) {
        return events(kind).stream()
                .filter(e -> e.text("stage").equals(stage))
                .mapToDouble(e -> e.at().seconds())
                .findFirst()
                .orElse(Double.POSITIVE_INFINITY);
    }
}
