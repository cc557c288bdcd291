// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelKind;
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
import java.time.Instant;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.Deque;
import java.util.HashMap;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Set;

/**
 * All readings of a run, packed while they pass: a second reading of the log, which the verdict has no part in.
 *
 * <p>A counter is turned into its growth a second since it last answered, as the judging scan does for drawing; a
 * decrease is a reset, after which it counts from zero.
 */
final class Readings implements LogVisitor, LogRecord.Handler<Void> {
    /** A page larger than this is beyond what a browser opens in comfort. */
    private static final long MOST_PACKED_BYTES = 32L << 20;

    /** What a person wants to see of the moments before an end. */
    private static final int KEPT_BEFORE_END = 3;

    /** Lowest and highest by channel and stage: more rows and columns nobody reads. */
    private static final int MOST_EXTREMES = 100_000;

    /** Corrections of a wall clock in one stretch. */
    private static final int MOST_CLOCK_STEPS = 10_000;

    private static final int CHECK_EACH = 1 << 16;
    private static final long CLOCK_STEP_MILLIS = 20;

    /** Readings under one channel table: a restart, or a new table, begins another. Stretches are never joined. */
    static final class Stretch {
        final int segment;
        final List<Channel> channels;
        final Column millis = Column.ofTimes();
        final List<Column> columns = new ArrayList<>();
        /** Pairs of sample number and the offset of UTC from the segment's clock in milliseconds, from there on. */
        final List<Long> utcOffsets = new ArrayList<>();

        final Deque<Kept> ending = new ArrayDeque<>();
        private final double[] previous;
        private final double[] previousSeconds;
        private double lastSeconds = Double.NaN;
        private long samples;

        Stretch(int segment, List<Channel> channels) {
            this.segment = segment;
            this.channels = channels;
            channels.forEach(c -> columns.add(Column.ofReadings()));
            previous = new double[channels.size()];
            previousSeconds = new double[channels.size()];
            Arrays.fill(previous, Double.NaN);
        }

        /** Nothing more comes: what packs the columns is let go. */
        void close() {
            millis.finish();
            columns.forEach(Column::finish);
        }

        private long packedBytes() {
            return millis.packedBytes()
                    + columns.stream().mapToLong(Column::packedBytes).sum();
        }

        long samples() {
            return samples;
        }

        double lastSeconds() {
            return lastSeconds;
        }
    }

    /** One sample of the last few, as drawn. */
    @SuppressWarnings("ArrayRecordComponent") // made for a table, never compared
    record Kept(double seconds, Instant utc, double[] values) {}

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
    private Stretch open;

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
    Found found(Place line) {
        return found.get(line);
    }

    Map<Integer, Boot> boots() {
        return boots;
    }

    /** Of a channel in a stage (by its number); null without readings there. */
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
        // The same rules as the judging scan: what does not fit the table, or runs backwards, is not drawn.
        if (open == null
                || open.columns.size() != sample.values().length
                || open.segment != sample.at().segment()
                || seconds < open.lastSeconds) {
            return null;
        }
        long millis = Math.round(sample.at().nanos() / 1e6);
        open.millis.add((double) millis);
        utc(open, sample.utc().toEpochMilli() - millis);
        int stage = stage(open.segment, seconds);
        double[] drawn = new double[sample.values().length];
        for (int i = 0; i < drawn.length; i++) {
            Channel channel = open.channels.get(i);
            drawn[i] = channel.metric().kind() == ChannelKind.COUNTER
                    ? rate(open, i, seconds, sample.values()[i])
                    : sample.values()[i];
            open.columns.get(i).add(drawn[i]);
            if (!Double.isNaN(drawn[i])) {
                highest.merge(channel.id(), drawn[i], Math::max);
                if (stage >= 0) {
                    extreme(channel, stage, seconds, drawn[i]);
                }
            }
        }
        open.ending.add(new Kept(seconds, sample.utc(), drawn));
        if (open.ending.size() > KEPT_BEFORE_END) {
            open.ending.removeFirst();
        }
        open.lastSeconds = seconds;
        open.samples++;
        if (open.samples % CHECK_EACH == 0) {
            check();
        }
        return null;
    }

    /** Of a channel that two tables have, those of the first one in a stage. */
    private void extreme(Channel channel, int stage, double seconds, double value) {
        Extremes found = extremes.computeIfAbsent(channel.id(), id -> new HashMap<>())
                .computeIfAbsent(stage, s -> {
                    extremesCount++;
                    return new Extremes(open);
                });
        if (extremesCount > MOST_EXTREMES) {
            throw tooMuch("more than " + MOST_EXTREMES + " channels times stages");
        }
        if (found.of == open) {
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

    private static double rate(Stretch stretch, int i, double seconds, double value) {
        if (Double.isNaN(value)) {
            return Double.NaN;
        }
        double before = stretch.previous[i];
        double since = seconds - stretch.previousSeconds[i];
        stretch.previous[i] = value;
        stretch.previousSeconds[i] = seconds;
        if (Double.isNaN(before) || since <= 0) {
            return Double.NaN;
        }
        return (value >= before ? value - before : value) / since;
    }

    private static void utc(Stretch stretch, long offset) {
        int size = stretch.utcOffsets.size();
        if (size == 0 || Math.abs(offset - stretch.utcOffsets.get(size - 1)) > CLOCK_STEP_MILLIS) {
            stretch.utcOffsets.add(stretch.samples);
            stretch.utcOffsets.add(offset);
            if (size > 2 * MOST_CLOCK_STEPS) {
                throw tooMuch("more than " + MOST_CLOCK_STEPS + " steps of its wall clock");
            }
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

    private static UncheckedIOException tooMuch(String what) {
        return new UncheckedIOException(new IOException(
                "the log holds more than a page can show: " + what + "; judge and certify take it all the same"));
    }
}
