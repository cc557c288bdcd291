// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import static dev.loadwitness.runlog.procedure.Parameters.Fans.HOT;
import static dev.loadwitness.runlog.procedure.Parameters.TemperatureCeiling.BLOCK;

import dev.loadwitness.reporter.scan.belief.Belief;
import dev.loadwitness.reporter.scan.belief.SensorFault;
import dev.loadwitness.reporter.scan.belief.WorkScan;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Counters;
import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.NotedEvent;
import dev.loadwitness.reporter.scan.follow.Room;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.reporter.scan.heat.RunTemperatures;
import dev.loadwitness.reporter.scan.machine.AskScan;
import dev.loadwitness.reporter.scan.machine.AwakeScan;
import dev.loadwitness.reporter.scan.machine.ErrorScan;
import dev.loadwitness.reporter.scan.machine.FanScan;
import dev.loadwitness.reporter.scan.machine.LimitScan;
import dev.loadwitness.reporter.scan.machine.SupplyScan;
import dev.loadwitness.reporter.scan.series.Drawing;
import dev.loadwitness.reporter.scan.stage.StageScan;
import dev.loadwitness.reporter.scan.stage.StageTally;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogLimits;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.UnknownRecord;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.read.LogVisitor;
import dev.loadwitness.runlog.file.read.ReadSummary;
import dev.loadwitness.runlog.file.read.RunLogReader;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Collectors;

/**
 * Reads a log once, in memory that grows with channels and stages, never with hours. What the records come to is the business
 * of its followers: each is registered here once, and owns its tallies.
 */
public final class Scanning implements LogVisitor, LogRecord.Handler<Void> {
    private static final long CHANNEL_BYTES = 500;

    private final ScanOptions options;
    private final Room room = new Room();
    private Place place = new Place(1, 0, 0);

    private Header header;
    private AsRun asRun;
    private Procedure judgedBy;
    private double periodSeconds;
    private final Map<String, Channel> channels = new LinkedHashMap<>();
    private long tableEntries;

    private final Counters counters = new Counters();
    private final Belief belief = new Belief();
    private final WorkScan work = new WorkScan();
    private final LimitScan limits = new LimitScan();
    private final ErrorScan errors = new ErrorScan();
    private final SupplyScan supply = new SupplyScan();
    private final AwakeScan awake = new AwakeScan();
    private final AskScan asks = new AskScan(room);
    private FanScan fans;
    private RunTemperatures temperatures;
    private Drawing drawing;
    private List<Follower> followers = List.of();

    private final List<Segment> segments = new ArrayList<>();
    private final List<StageTally> stages = new ArrayList<>();
    private final EventList events = new EventList();
    private Close close;
    private At closedAt;
    private long samples;
    private long samplesDue;

    private SegmentScan segment;
    private ChannelTable table;
    private int adapter = -1;
    private StageScan stage;
    private int checksCaught;
    private int checksMissed;

    private Scanning(ScanOptions options) {
        this.options = options;
    }

    /**
     * Scans a log to its end, damaged or not.
     *
     * @throws IOException if a file cannot be read, or is no run log
     */
    public static Scan of(Path log, ScanOptions options) throws IOException {
        Scanning scanning = new Scanning(options);
        try {
            ReadSummary read = RunLogReader.read(log, scanning);
            return scanning.finish(read);
        } catch (UncheckedIOException e) {
            throw new IOException(log + ": " + e.getCause().getMessage(), e);
        }
    }

    @Override
    public void record(LogRecord logRecord, Place at) {
        place = at;
        logRecord.accept(this);
    }

    @Override
    public void damage(Damage damage) {
        // The reader's summary lists it.
    }

    private Scan finish(ReadSummary read) {
        endSegment();
        List<SensorFault> faults = belief.finish();
        // What cannot be believed is left out here, once, so that no criterion has to look for it.
        Set<String> faulty = faults.stream().map(f -> f.channel().id()).collect(Collectors.toSet());
        return new Scan(
                header,
                asRun.procedure(),
                asRun.repairedRail(),
                read,
                segments,
                stages.stream().map(s -> s.without(faulty)).toList(),
                List.copyOf(channels.values()),
                faults,
                temperatures.finish().stream()
                        .filter(t -> !faulty.contains(t.channel().id()))
                        .toList(),
                limits.finish(),
                work.finish(),
                errors.finish(),
                supply.finish(),
                fans.finish(),
                awake.finish(),
                asks.finish(),
                events.first(),
                events.count(),
                Optional.ofNullable(close),
                Optional.ofNullable(closedAt),
                samplesDue,
                samples,
                drawing.finish());
    }

    @Override
    public Void header(Header read) {
        if (header == null) {
            header = read;
            Room.check(read.earlier().size(), LogLimits.EARLIER_ATTEMPTS, "earlier attempts");
            asRun = AsRun.of(read);
            judgedBy = options.judgedBy().orElse(asRun.procedure());
            periodSeconds = asRun.procedure().samplingPeriod().toNanos() / 1e9;
            register();
        }
        return null;
    }

    /** A new follower goes here. The order is of no consequence: none sees another. */
    private void register() {
        fans = new FanScan(judgedBy.settingOrDefaults(Criterion.FANS).celsius(HOT));
        temperatures = new RunTemperatures(
                judgedBy.settingOrDefaults(Criterion.TEMPERATURE_CEILING).seconds(BLOCK), periodSeconds);
        drawing = new Drawing(periodSeconds);
        List<Follower> all = new ArrayList<>(List.of(work, limits, errors, supply, fans, awake, temperatures, asks));
        if (options.series()) {
            all.add(drawing);
        }
        followers = List.copyOf(all);
    }

    @Override
    public Void part(Part part) {
        return null;
    }

    @Override
    public Void boot(Boot boot) {
        endSegment();
        Room.check(segments.size() + 1L, LogLimits.BOOTS, "boots");
        segment = new SegmentScan(boot, place);
        followers.forEach(f -> f.boot(boot));
        list(new ChannelTable(boot.at(), List.of()));
        return null;
    }

    @Override
    public Void channels(ChannelTable read) {
        if (segment == null) {
            return null;
        }
        tableEntries += read.channels().size();
        Room.check(read.channels().size(), LogLimits.CHANNELS, "channels");
        Room.check(tableEntries, LogLimits.CHANNELS_OF_ALL_TABLES, "channels in all its channel tables together");
        for (Channel c : read.channels()) {
            channels.putIfAbsent(c.id(), c);
            Room.check(channels.size(), LogLimits.CHANNELS, "channels");
            room.take(CHANNEL_BYTES + 2L * textChars(c));
        }
        segment.table(at(read.at()), read.channels());
        list(read);
        return null;
    }

    /** From now on samples have these channels. */
    private void list(ChannelTable now) {
        table = now;
        adapter = now.find(Role.ADAPTER, Metric.ADAPTER_ONLINE);
        counters.table(now);
        belief.table(now);
        followers.forEach(f -> f.table(now));
        if (stage != null) {
            stage.table(now);
        }
    }

    @Override
    public Void bootEvidence(BootEvidence evidence) {
        if (segment != null) {
            segment.evidence(evidence);
        }
        return null;
    }

    @Override
    public Void sample(Sample sample) {
        samples++;
        if (segment == null || table.channels().size() != sample.values().length) {
            return null;
        }
        At at = at(sample.at());
        double seconds = segment.since(at);
        segment.gapTo(at);
        Step step = step(at, seconds, belief.toScale(at, sample.values()));
        for (Follower f : followers) {
            f.step(step);
        }
        if (stage != null) {
            stage.step(step);
        }
        counters.keep(step.values());
        segment.sample(at, sample.utc(), step.values());
        return null;
    }

    private Step step(At at, double seconds, double[] read) {
        counters.read(read);
        work.work(counters);
        double[] values = belief.believed(at, read, seconds, work);
        boolean onMains = adapter >= 0 && values[adapter] == 1;
        return new Step(
                at,
                seconds,
                share(at, seconds),
                read,
                values,
                counters,
                onMains,
                stage == null ? null : stage.stage(),
                stage == null ? -1 : stages.size());
    }

    /** The first step of a stage begins with the stage, not with the sample before it. */
    private double share(At at, double seconds) {
        return stage != null
                        && seconds > 0
                        && at.seconds() - seconds < stage.begin().seconds()
                ? Math.min(1, (at.seconds() - stage.begin().seconds()) / seconds)
                : 1;
    }

    @Override
    public Void event(Event event) {
        At at = at(event.at());
        if (event.known().filter(kind -> kind == EventKind.LOAD_EDGES).isPresent()) {
            // Thousands of edges an hour: they are reduced at once, and not kept.
            if (stage != null) {
                stage.event(at, EventKind.LOAD_EDGES, event);
            }
            return null;
        }
        NotedEvent noted = new NotedEvent(at, event).cut();
        events.add(noted);
        if (segment != null) {
            segment.event(noted);
        }
        event.known().ifPresent(kind -> {
            followers.forEach(f -> f.event(at, kind, event));
            take(kind, event, at);
        });
        return null;
    }

    private void take(EventKind kind, Event event, At at) {
        switch (kind) {
            case WITNESS_CHECK -> {
                if (event.facts().get("caught") instanceof Boolean caught && caught) {
                    checksCaught++;
                } else {
                    checksMissed++;
                }
            }
            case STAGE_BEGIN -> beginStage(event.text("stage"), at);
            case STAGE_END -> endStage(at, event.text("why"));
            case LOAD_LEVEL -> {
                if (stage != null) {
                    stage.event(at, kind, event);
                }
            }
            default -> {
                // Followers have seen it, and criteria look at the list of events.
            }
        }
    }

    private void beginStage(String id, At at) {
        endStage(at, "interrupted");
        Optional<Stage> found = asRun.procedure().stages().stream()
                .filter(s -> s.id().equals(id))
                .findFirst();
        if (found.isPresent() && segment != null) {
            Room.check(stages.size() + 1L, LogLimits.STAGES, "stages begun");
            stage = new StageScan(
                    found.get(),
                    at,
                    new StageTally.WitnessChecks(checksCaught, checksMissed),
                    judgedBy,
                    periodSeconds,
                    room);
            stage.table(table);
        }
        checksCaught = 0;
        checksMissed = 0;
    }

    private void endStage(At at, String why) {
        if (stage != null) {
            StageTally tally = stage.finish(at, why);
            room.take(tally.bytes());
            stages.add(tally);
            stage = null;
        }
    }

    @Override
    public Void close(Close read) {
        close = read;
        closedAt = at(read.at());
        if (segment != null) {
            segment.gapTo(closedAt);
        }
        return null;
    }

    @Override
    public Void unknown(UnknownRecord unknown) {
        return null;
    }

    /** Of the texts that a channel brings along; a hostile log's are long. */
    private static long textChars(Channel c) {
        return (long) c.id().length()
                + c.metric().name().length()
                + c.metric().unit().length()
                + c.component().length()
                + c.label().length()
                + c.source().length();
    }

    private At at(RunTime time) {
        return new At(place, time.segment(), time.seconds());
    }

    private void endSegment() {
        if (segment == null) {
            return;
        }
        if (stage != null) {
            boolean sampled = segment.last() != null
                    && segment.last().seconds() > stage.begin().seconds();
            endStage(sampled ? segment.last() : stage.begin(), "interrupted");
        }
        followers.forEach(Follower::bootOver);
        samplesDue += segment.due(periodSeconds);
        Segment finished = segment.finish();
        room.take(finished.bytes());
        segments.add(finished);
        segment = null;
    }
}
