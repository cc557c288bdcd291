// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import static dev.loadwitness.runlog.procedure.Parameters.Fans.HOT;
import static dev.loadwitness.runlog.procedure.Parameters.TemperatureCeiling.BLOCK;
import static java.util.Objects.requireNonNull;

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
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
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
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Collectors;
import org.jspecify.annotations.Nullable;

/**
 * Reads a log once, in memory that grows with channels and stages, never with hours. What the records come to is the business
 * of its followers: each is registered here once, and owns its tallies.
 */
public final class Scanning implements LogVisitor, LogRecord.Handler<Void> {
    private final ScanOptions options;
    private final Room room = new Room();
    private Place place = new Place(1, 0, 0);

    private @Nullable Begun begun;
    private final ChannelList channels = new ChannelList(room);

    private final Counters counters = new Counters();
    private final Belief belief = new Belief();
    private final WorkScan work = new WorkScan();
    private final LimitScan limits = new LimitScan();
    private final ErrorScan errors = new ErrorScan();
    private final SupplyScan supply = new SupplyScan();
    private final AwakeScan awake = new AwakeScan();
    private final AskScan asks = new AskScan(room);

    private final List<Segment> segments = new ArrayList<>();
    private final EventList events = new EventList();
    private @Nullable Close close;
    private @Nullable At closedAt;
    private long samples;
    private long samplesDue;

    private @Nullable SegmentScan segment;
    private ChannelTable table = ChannelTable.NONE;
    private int adapter = -1;

    /** What follows from the header. */
    private record Begun(
            Header header,
            AsRun asRun,
            double periodSeconds,
            StageList stages,
            FanScan fans,
            RunTemperatures temperatures,
            Drawing drawing,
            List<Follower> followers) {}

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
            throw new IOException(
                    log + ": " + requireNonNull(e.getCause(), "cause").getMessage(), e);
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
                begun().header(),
                begun().asRun().procedure(),
                begun().asRun().repairedRail(),
                read,
                segments,
                begun().stages().without(faulty),
                channels.all(),
                faults,
                begun().temperatures().finish().stream()
                        .filter(t -> !faulty.contains(t.channel().id()))
                        .toList(),
                limits.finish(),
                work.finish(),
                errors.finish(),
                supply.finish(),
                begun().fans().finish(),
                awake.finish(),
                asks.finish(),
                events.first(),
                events.count(),
                Optional.ofNullable(close),
                Optional.ofNullable(closedAt),
                samplesDue,
                samples,
                begun().drawing().finish());
    }

    @Override
    public Void header(Header read) {
        if (begun == null) {
            Room.check(read.earlier().size(), LogLimits.EARLIER_ATTEMPTS, "earlier attempts");
            begun = begin(read, AsRun.of(read));
        }
        return null;
    }

    /** A new follower goes here. The order is of no consequence: none sees another. */
    private Begun begin(Header header, AsRun asRun) {
        Procedure judgedBy = options.judgedBy().orElse(asRun.procedure());
        double periodSeconds = asRun.procedure().samplingPeriod().toNanos() / 1e9;
        FanScan fans = new FanScan(judgedBy.settingOrDefaults(Criterion.FANS).celsius(HOT));
        RunTemperatures temperatures = new RunTemperatures(
                judgedBy.settingOrDefaults(Criterion.TEMPERATURE_CEILING).seconds(BLOCK), periodSeconds);
        Drawing drawing = new Drawing(periodSeconds);
        List<Follower> all = new ArrayList<>(List.of(work, limits, errors, supply, fans, awake, temperatures, asks));
        if (options.series()) {
            all.add(drawing);
        }
        StageList stages = new StageList(asRun.procedure(), judgedBy, periodSeconds, room);
        return new Begun(header, asRun, periodSeconds, stages, fans, temperatures, drawing, List.copyOf(all));
    }

    private Begun begun() {
        return requireNonNull(begun, "the reader hands on the header before anything else");
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
        begun().followers().forEach(f -> f.boot(boot));
        list(new ChannelTable(boot.at(), List.of()));
        return null;
    }

    @Override
    public Void channels(ChannelTable read) {
        if (segment == null) {
            return null;
        }
        channels.add(read);
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
        begun().followers().forEach(f -> f.table(now));
        begun().stages().table(now);
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
        for (Follower f : begun().followers()) {
            f.step(step);
        }
        begun().stages().step(step);
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
                begun().stages().share(at, seconds),
                read,
                values,
                counters,
                onMains,
                begun().stages().stage(),
                begun().stages().number());
    }

    @Override
    public Void event(Event event) {
        At at = at(event.at());
        if (event.known().filter(kind -> kind == EventKind.LOAD_EDGES).isPresent()) {
            // Thousands of edges an hour: they are reduced at once, and not kept.
            begun().stages().event(at, EventKind.LOAD_EDGES, event);
            return null;
        }
        NotedEvent noted = new NotedEvent(at, event).cut();
        events.add(noted);
        if (segment != null) {
            segment.event(noted);
        }
        event.known().ifPresent(kind -> {
            begun().followers().forEach(f -> f.event(at, kind, event));
            begun().stages().event(at, kind, event);
        });
        return null;
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

    private At at(RunTime time) {
        return new At(place, time.segment(), time.seconds());
    }

    private void endSegment() {
        if (segment == null) {
            return;
        }
        begun().stages().bootOver(segment.last());
        begun().followers().forEach(Follower::bootOver);
        samplesDue += segment.due(begun().periodSeconds());
        Segment finished = segment.finish();
        room.take(finished.bytes());
        segments.add(finished);
        segment = null;
    }
}
