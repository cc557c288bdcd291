// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.UnknownRecord;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.read.LogVisitor;
import dev.loadwitness.runlog.file.read.RunLogReader;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.HashMap;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Set;
import org.jspecify.annotations.Nullable;

/**
 * All readings of a run, packed while they pass: a second reading of the log, which the verdict has no part in.
 */
final class Readings implements LogVisitor, LogRecord.Handler<Void> {
    /** A page larger than this is beyond what a browser opens in comfort. */
    private static final long MOST_PACKED_BYTES = 32L << 20;

    /** Lowest and highest by channel and stage: more rows and columns nobody reads. */
    private static final int MOST_EXTREMES = 100_000;

    private static final int CHECK_EACH = 1 << 16;

    /** Lowest and highest of one channel in one stage, and when. */
    static final class Extremes {
        private final Stretch of;
        double lowest = Double.POSITIVE_INFINITY;
        double lowestAt;
        double highest = Double.NEGATIVE_INFINITY;
        double highestAt;

        private Extremes(Stretch of) {
            this.of = of;
        }

        void add(double seconds, double value) {
            if (value < lowest) {
                lowest = value;
                lowestAt = seconds;
            }
            if (value > highest) {
                highest = value;
                highestAt = seconds;
            }
        }
    }

    /** A moment found by its place in the log. */
    record Found(int segment, double seconds) {}

    private final List<StageTally> stages;
    private final Set<Place> wanted;
    private final Map<Place, Found> found = new HashMap<>();
    private final List<Stretch> stretches = new ArrayList<>();
    private long closedBytes;
    private final Map<String, Double> highest = new HashMap<>();
    private final Map<String, Map<Integer, Extremes>> extremes = new HashMap<>();
    private int extremesCount;
    private final Map<Integer, Boot> boots = new LinkedHashMap<>();
    private Place place = new Place(1, 0, 0);
    private @Nullable Stretch open;

    private Readings(List<StageTally> stages, Set<Place> wanted) {
        this.stages = stages;
        this.wanted = wanted;
    }

    /**
     * Reads a log.
     *
     * @param wanted lines that evidence lies on
     * @throws IOException if it cannot be read, or holds more than a page can
     */
    static Readings of(Path log, List<StageTally> stages, Set<Place> wanted) throws IOException {
        Readings readings = new Readings(stages, wanted);
        try {
            RunLogReader.read(log, readings);
        } catch (UncheckedIOException e) {
            throw e.getCause();
        }
        readings.endStretch();
        return readings;
    }

    List<Stretch> stretches() {
        return stretches;
    }

    /** Highest reading, or rate, of a channel over the whole run; 0 if there is none above it. */
    double highest(Channel channel) {
        return highest.getOrDefault(channel.id(), 0.0);
    }

    /** Where evidence lies in time; null if its place holds no record with a time. */
    @Nullable
    Found found(Place line) {
        return found.get(line);
    }

    Map<Integer, Boot> boots() {
        return boots;
    }

    /** Of a channel in a stage (by its number); null without readings there. */
    @Nullable
    Extremes extremes(String channel, int stage) {
        return extremes.getOrDefault(channel, Map.of()).get(stage);
    }

    @Override
    public void record(LogRecord logRecord, Place at) {
        place = at;
        logRecord.accept(this);
    }

    @Override
    public void damage(Damage damage) {
        // The verdict says it.
    }

    private void at(RunTime time) {
        if (wanted.contains(place)) {
            found.put(place, new Found(time.segment(), time.seconds()));
        }
    }

    @Override
    public Void header(Header header) {
        return null;
    }

    @Override
    public Void part(Part part) {
        return null;
    }

    @Override
    public Void boot(Boot boot) {
        at(boot.at());
        boots.putIfAbsent(boot.at().segment(), boot);
        endStretch();
        return null;
    }

    @Override
    public Void channels(ChannelTable table) {
        at(table.at());
        endStretch();
        open = new Stretch(table.at().segment(), table.channels());
        stretches.add(open);
        return null;
    }

    @Override
    public Void bootEvidence(BootEvidence evidence) {
        at(evidence.at());
        return null;
    }

    @Override
    public Void event(Event event) {
        at(event.at());
        return null;
    }

    @Override
    public Void close(Close close) {
        at(close.at());
        return null;
    }

    @Override
    public Void unknown(UnknownRecord unknown) {
        return null;
    }

    @Override
    public Void sample(Sample sample) {
        at(sample.at());
        double seconds = sample.at().seconds();
        // The same rules as the judging scan.
        Stretch now = open;
        if (now == null || !now.takes(sample)) {
            return null;
        }
        int stage = stage(now.segment, seconds);
        double[] drawn = now.add(sample);
        for (int i = 0; i < drawn.length; i++) {
            if (!Double.isNaN(drawn[i])) {
                Channel channel = now.channels.get(i);
                highest.merge(channel.id(), drawn[i], Math::max);
                if (stage >= 0) {
                    extreme(now, channel, stage, seconds, drawn[i]);
                }
            }
        }
        if (now.samples() % CHECK_EACH == 0) {
            check();
        }
        return null;
    }

    /** Of a channel that two tables have, those of the first one in a stage. */
    private void extreme(Stretch now, Channel channel, int stage, double seconds, double value) {
        Extremes found = extremes.computeIfAbsent(channel.id(), id -> new HashMap<>())
                .computeIfAbsent(stage, s -> {
                    extremesCount++;
                    return new Extremes(now);
                });
        if (extremesCount > MOST_EXTREMES) {
            throw tooMuch("more than " + MOST_EXTREMES + " channels times stages");
        }
        if (found.of == now) {
            found.add(seconds, value);
        }
    }

    private void endStretch() {
        if (open != null) {
            open.close();
            closedBytes += open.packedBytes();
            open = null;
            check();
        }
    }

    private int stage(int segment, double seconds) {
        for (int i = 0; i < stages.size(); i++) {
            StageTally s = stages.get(i);
            if (s.begin().segment() == segment
                    && s.begin().seconds() <= seconds
                    && seconds <= s.end().seconds()) {
                return i;
            }
        }
        return -1;
    }

    private void check() {
        if (closedBytes + (open == null ? 0 : open.packedBytes()) > MOST_PACKED_BYTES) {
            throw tooMuch("readings of more than " + (MOST_PACKED_BYTES >> 20) + " MiB when packed");
        }
    }

    static UncheckedIOException tooMuch(String what) {
        return new UncheckedIOException(new IOException(
                "the log holds more than a page can show: " + what + "; judge and certify take it all the same"));
    }
}
