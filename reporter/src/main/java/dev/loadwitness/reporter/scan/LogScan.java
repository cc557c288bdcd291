// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan;

import static dev.loadwitness.runlog.procedure.Parameters.Fans.HOT;
import static dev.loadwitness.runlog.procedure.Parameters.TemperatureCeiling.BLOCK;

import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelKind;
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
import dev.loadwitness.runlog.file.Damage;
import dev.loadwitness.runlog.file.LogVisitor;
import dev.loadwitness.runlog.file.Place;
import dev.loadwitness.runlog.file.ReadSummary;
import dev.loadwitness.runlog.file.RunLogReader;
import dev.loadwitness.runlog.jobsheet.JobSheetException;
import dev.loadwitness.runlog.jobsheet.JobSheetReader;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Path;
import java.time.Instant;
import java.util.ArrayDeque;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.Deque;
import java.util.EnumMap;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.function.Predicate;
import java.util.stream.Collectors;
import java.util.stream.Stream;

/** Reads a log once, in memory that grows with channels and stages, never with hours. */
public final class LogScan implements LogVisitor, LogRecord.Handler<Void> {
    private static final int MOST_LAST_EVENTS = 100;
    private static final long CHANNEL_BYTES = 500;
    private static final long MAP_ENTRY_BYTES = 64;
    private static final double LAST_EVENTS_SECONDS = 60;
    private static final Set<String> PLATFORM_ERRORS =
            Set.of(Metric.HARDWARE_ERRORS.name(), Metric.CORRECTED_ERRORS.name(), Metric.PCIE_REPLAYS.name());

    private final ScanOptions options;
    private final Room room = new Room();
    private Place place = new Place(1, 0, 0);

    private Header header;
    private Procedure procedure;
    private String repairedRail = "";
    private Procedure judgedBy;
    private double periodSeconds;
    private final List<Segment> segments = new ArrayList<>();
    private final List<StageTally> stages = new ArrayList<>();
    private final Map<String, Channel> channels = new LinkedHashMap<>();
    private final Map<String, TemperatureScan> temperatures = new LinkedHashMap<>();
    private final Map<String, SensorScan> sensors = new LinkedHashMap<>();
    private final Map<String, ScaleScan> scales = new LinkedHashMap<>();
    private final EnumMap<Role, PartScan> parts = new EnumMap<>(Role.class);
    private final Map<String, ErrorScan> errorCounters = new LinkedHashMap<>();
    private final SupplyScan supply = new SupplyScan();
    private final AwakeScan awake = new AwakeScan();
    private FanScan fans;
    private final List<NotedEvent> events = new ArrayList<>();
    private long eventCount;
    private long eventChars;
    private long tableEntries;
    private Close close;
    private At closedAt;
    private long samples;
    private long samplesDue;
    private final SeriesList series = new SeriesList();
    private final AskScan asks = new AskScan();

    private SegmentScan segment;
    private StageScan stage;
    private int checksCaught;
    private int checksMissed;

    private LogScan(ScanOptions options) {
        this.options = options;
    }

    /**
     * Scans a log to its end, damaged or not.
     *
     * @throws IOException if a file cannot be read, or is no run log
     */
    public static Scan of(Path log, ScanOptions options) throws IOException {
        LogScan scan = new LogScan(options);
        try {
            ReadSummary read = RunLogReader.read(log, scan);
            return scan.finish(read);
        } catch (UncheckedIOException e) {
            throw new IOException(log + ": " + e.getCause().getMessage(), e);
        }
    }

    /** Length of the temperature means by which the run is judged, in seconds. */
    private double block() {
        return judgedBy.settingOrDefaults(Criterion.TEMPERATURE_CEILING).seconds(BLOCK);
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
        List<SensorFault> faults = Stream.concat(
                        scales.values().stream().map(ScaleScan::finish),
                        sensors.values().stream().map(SensorScan::finish))
                .flatMap(Optional::stream)
                .toList();
        // What cannot be believed is left out here, once, so that no criterion has to look for it.
        Set<String> faulty = faults.stream().map(f -> f.channel().id()).collect(Collectors.toSet());
        return new Scan(
                header,
                procedure,
                repairedRail,
                read,
                segments,
                stages.stream().map(s -> s.without(faulty)).toList(),
                List.copyOf(channels.values()),
                faults,
                temperatures.values().stream()
                        .map(TemperatureScan::finish)
                        .filter(t -> !faulty.contains(t.channel().id()))
                        .toList(),
                parts.entrySet().stream()
                        .filter(e -> !Double.isNaN(e.getValue().highestLimitOnMains))
                        .map(e -> new Scan.PowerLimitTally(e.getKey(), e.getValue().highestLimitOnMains))
                        .toList(),
                parts.entrySet().stream()
                        .filter(e -> !Double.isNaN(e.getValue().verifiedWork))
                        .map(e -> new Scan.WorkTally(e.getKey(), e.getValue().verifiedWork, e.getValue().workErrors))
                        .toList(),
                errorCounters.values().stream().map(ErrorScan::finish).toList(),
                supply.finish(),
                fans == null ? List.of() : fans.finish(),
                awake.finish(),
                asks.finish(),
                events,
                eventCount,
                Optional.ofNullable(close),
                Optional.ofNullable(closedAt),
                samplesDue,
                samples,
                series.list());
    }

    @Override
    public Void header(Header read) {
        if (header == null) {
            header = read;
            Room.check(read.earlier().size(), LogLimits.EARLIER_ATTEMPTS, "earlier attempts");
            try {
                Procedure written = ProcedureReader.read(
                        read.procedure().name(), read.procedure().text());
                repairedRail = written.railsWithAShare().isEmpty() ? "" : repairedRail(read);
                procedure = written.forRail(repairedRail);
                judgedBy = options.judgedBy().orElse(procedure);
                fans = new FanScan(judgedBy.settingOrDefaults(Criterion.FANS).celsius(HOT));
                periodSeconds = procedure.samplingPeriod().toNanos() / 1e9;
            } catch (ProcedureException e) {
                throw new UncheckedIOException(new IOException(
                        "the procedure inside the log cannot be read by this version:\n" + e.getMessage(), e));
            }
        }
        return null;
    }

    /** As the sheet in the log says, which the run was planned by; another one given later changes no stage that was run. */
    private static String repairedRail(Header header) {
        if (header.jobSheet().isEmpty()) {
            return "";
        }
        Attachment sheet = header.jobSheet().get();
        try {
            return JobSheetReader.read(sheet.name(), sheet.text()).repairedRail();
        } catch (JobSheetException e) {
            throw new UncheckedIOException(new IOException(
                    "the job sheet inside the log cannot be read by this version:\n" + e.getMessage(), e));
        }
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
        return null;
    }

    @Override
    public Void channels(ChannelTable table) {
        if (segment == null) {
            return null;
        }
        tableEntries += table.channels().size();
        Room.check(table.channels().size(), LogLimits.CHANNELS, "channels");
        Room.check(tableEntries, LogLimits.CHANNELS_OF_ALL_TABLES, "channels in all its channel tables together");
        for (Channel c : table.channels()) {
            channels.putIfAbsent(c.id(), c);
            scales.computeIfAbsent(c.id(), id -> new ScaleScan(c));
            Room.check(channels.size(), LogLimits.CHANNELS, "channels");
            room.take(CHANNEL_BYTES + 2L * textChars(c));
            if (c.measures(Metric.TEMPERATURE)) {
                temperatures.computeIfAbsent(c.id(), id -> new TemperatureScan(c, block(), periodSeconds));
            }
            if (SensorScan.watches(c)) {
                sensors.computeIfAbsent(c.id(), id -> new SensorScan(c));
            }
        }
        supply.table(table.channels());
        fans.table(table.channels());
        awake.table(table.channels());
        segment.table(at(table.at()), table.channels());
        return null;
    }

    @Override
    public Void bootEvidence(BootEvidence evidence) {
        if (segment != null) {
            segment.evidence = evidence;
        }
        return null;
    }

    @Override
    public Void sample(Sample sample) {
        samples++;
        if (segment != null && segment.lanes.length == sample.values().length) {
            segment.sample(at(sample.at()), sample.utc(), sample.values());
        }
        return null;
    }

    @Override
    public Void event(Event event) {
        At at = at(event.at());
        if (event.known().filter(kind -> kind == EventKind.LOAD_EDGES).isPresent()) {
            // Thousands of edges an hour: they are reduced at once, and not kept.
            if (stage != null) {
                stage.steps.edges(at, event);
            }
            return null;
        }
        eventCount++;
        NotedEvent noted = new NotedEvent(at, event).cut();
        if (events.size() < LogLimits.EVENTS && eventChars + noted.chars() <= LogLimits.EVENT_CHARS) {
            eventChars += noted.chars();
            events.add(noted);
        }
        if (segment != null) {
            segment.event(noted);
        }
        event.known().ifPresent(kind -> {
            supply.event(kind, event);
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
            case OPERATOR_ASKED -> asks.asked(event, at);
            case SUSPENDED -> asks.slept(at);
            case STAGE_LEFT_OUT -> asks.leftOut(event);
            case OPERATOR_DONE -> {
                if (segment != null) {
                    Map<String, Double> celsius = segment.celsius();
                    room.take(MAP_ENTRY_BYTES * celsius.size());
                    asks.done(event, at, segment.boot, celsius);
                }
            }
            case STAGE_BEGIN -> beginStage(event.text("stage"), at);
            case STAGE_END -> endStage(at, event.text("why"));
            case LOAD_LEVEL -> {
                if (stage != null) {
                    stage.steps.level(at, event);
                    stage.edge(at.seconds());
                }
            }
            default -> {
                // Criteria look at the list of events.
            }
        }
    }

    private void beginStage(String id, At at) {
        endStage(at, "interrupted");
        Optional<Stage> found =
                procedure.stages().stream().filter(s -> s.id().equals(id)).findFirst();
        if (found.isPresent() && segment != null) {
            Room.check(stages.size() + 1L, LogLimits.STAGES, "stages begun");
            stage = new StageScan(
                    found.get(),
                    at,
                    new StageTally.WitnessChecks(checksCaught, checksMissed),
                    StepScan.Tolerance.of(judgedBy),
                    periodSeconds,
                    room);
            segment.enter(stage);
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
            if (segment != null) {
                segment.leave();
            }
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
            boolean sampled = segment.last != null && segment.last.seconds() > stage.begin.seconds();
            endStage(sampled ? segment.last : stage.begin, "interrupted");
        }
        Segment finished = segment.finish();
        room.take(finished.bytes());
        segments.add(finished);
        segment = null;
    }

    /** What is followed while one boot's samples pass. */
    private final class SegmentScan {
        private final Boot boot;
        private final Place bootPlace;
        private BootEvidence evidence;
        private Lane[] lanes = new Lane[0];
        private LastMinute lastMinute = new LastMinute(List.of());
        private double[] previous;
        // Lanes by what is done with them, so that a sample touches only those that something follows.
        private Lane[] counters = {};
        private Lane[] works = {};
        private Lane[] errorCounts = {};
        private Lane[] limits = {};
        private Lane[] temperatureLanes = {};
        private Lane[] tracked = {};
        private Lane[] watched = {};
        private Lane[] throttled = {};
        private Lane[] drawn = {};
        private Lane[] platformErrors = {};
        private PowerLanes[] powers = {};
        private ThermalLane[] thermal = {};
        private long count;
        private At tableAt;
        private At first;
        private At last;
        private Instant lastUtc;
        private final Deque<NotedEvent> lastEvents = new ArrayDeque<>();
        private NotedEvent asked;
        private double longestGap;
        private At gapAt;

        private int adapter = -1;
        private int energy = -1;
        private int power = -1;
        private int limit = -1;
        private int clock = -1;
        private int utilization = -1;

        SegmentScan(Boot boot, Place bootPlace) {
            this.boot = boot;
            this.bootPlace = bootPlace;
        }

        void table(At at, List<Channel> table) {
            flushSeries();
            tableAt = tableAt == null ? at : tableAt;
            lanes = new Lane[table.size()];
            for (int i = 0; i < lanes.length; i++) {
                lanes[i] = new Lane(table.get(i), i);
            }
            counters = lanes(lane -> lane.counter);
            works = lanes(lane -> lane.work);
            errorCounts = lanes(lane -> lane.errors);
            limits = lanes(lane -> lane.limitOfPower);
            temperatureLanes = lanes(lane -> lane.temperature != null);
            watched = lanes(lane -> lane.sensor != null);
            drawn = lanes(lane -> lane.series != null);
            platformErrors = lanes(lane -> lane.platformErrors != null);
            throttled = new Lane[0];
            powers = new PowerLanes[0];
            thermal = new ThermalLane[0];
            parts.values().forEach(part -> part.atWork = false);
            for (Lane lane : watched) {
                lane.powerOfPart = find(lane.channel.role(), Metric.POWER);
            }
            lastMinute = new LastMinute(table);
            previous = null;
            adapter = find(Role.ADAPTER, Metric.ADAPTER_ONLINE);
            if (stage != null) {
                enter(stage);
            }
        }

        private Lane[] lanes(Predicate<Lane> wanted) {
            return Arrays.stream(lanes).filter(wanted).toArray(Lane[]::new);
        }

        private int find(Role role, Metric metric) {
            for (int i = 0; i < lanes.length; i++) {
                if (lanes[i].channel.is(role, metric)) {
                    return i;
                }
            }
            return -1;
        }

        void enter(StageScan entered) {
            Role role = entered.part().orElse(null);
            energy = role == null ? -1 : find(role, Metric.ENERGY);
            power = role == null ? -1 : find(role, Metric.POWER);
            limit = role == null ? -1 : find(role, Metric.POWER_LIMIT);
            for (Lane lane : lanes) {
                lane.enter(entered, role);
            }
            throttled = lanes(lane -> lane.throttle != null);
            tracked = lanes(lane -> lane.track != null);
            powers = powerLanes(entered);
            thermal = thermalLanes(entered.thermal);
            clock = role == null ? -1 : find(role, Metric.GPU_CLOCK);
            utilization = role == null ? -1 : find(role, Metric.GPU_UTILIZATION);
            if (entered.steadyLoad() && clock >= 0 && utilization >= 0 && entered.clock == null) {
                entered.clock = new ClockTally(entered.begin);
            }
        }

        /** Every part that tells its power, with what it tells. */
        private PowerLanes[] powerLanes(StageScan entered) {
            List<PowerLanes> found = new ArrayList<>();
            for (Role role :
                    Arrays.stream(lanes).map(lane -> lane.channel.role()).collect(Collectors.toSet())) {
                int counter = find(role, Metric.ENERGY);
                int reading = find(role, role == Role.BATTERY ? Metric.BATTERY_POWER : Metric.POWER);
                if (counter >= 0 || reading >= 0) {
                    PowerScan scan =
                            entered.powers.computeIfAbsent(role, r -> new PowerScan(r, entered.begin, periodSeconds));
                    found.add(new PowerLanes(counter, reading, find(role, Metric.DEVICE_AWAKE), scan));
                }
            }
            return found.toArray(PowerLanes[]::new);
        }

        /** The chip's temperature and the power of each part that works, and every fan. */
        private ThermalLane[] thermalLanes(ThermalScan into) {
            List<ThermalLane> found = new ArrayList<>();
            for (Role role : List.of(Role.CPU, Role.GPU_DISCRETE, Role.GPU_INTEGRATED)) {
                int joules = find(role, Metric.ENERGY);
                // A graphics part's first temperature is that of its chip, a processor's that of its package.
                for (int index :
                        new int[] {find(role, Metric.TEMPERATURE), joules >= 0 ? joules : find(role, Metric.POWER)}) {
                    if (index >= 0) {
                        found.add(new ThermalLane(index, index == joules, into.line(lanes[index].channel)));
                    }
                }
            }
            for (Lane lane : lanes) {
                if (ThermalTally.Line.isFan(lane.channel)) {
                    found.add(new ThermalLane(lane.index, false, into.line(lane.channel)));
                }
            }
            return found.toArray(ThermalLane[]::new);
        }

        private void warm(At at, double[] values) {
            int bin = stage.thermal.bin(at.seconds());
            for (ThermalLane lane : thermal) {
                if (lane.counter) {
                    lane.line.counted(bin, at.seconds(), values[lane.index], lanes[lane.index].increase);
                } else {
                    lane.line.read(bin, values[lane.index]);
                }
            }
        }

        void leave() {
            for (Lane lane : lanes) {
                lane.throttle = null;
                lane.track = null;
                lane.proved = false;
            }
            throttled = new Lane[0];
            tracked = new Lane[0];
            powers = new PowerLanes[0];
            thermal = new ThermalLane[0];
        }

        void event(NotedEvent noted) {
            lastEvents.add(noted);
            while (lastEvents.size() > MOST_LAST_EVENTS) {
                lastEvents.removeFirst();
            }
            Optional<EventKind> kind = noted.event().known();
            if (kind.filter(k -> k == EventKind.OPERATOR_ASKED).isPresent()) {
                asked = noted;
            } else if (kind.filter(k ->
                            k == EventKind.OPERATOR_DONE || k == EventKind.STAGE_LEFT_OUT || k == EventKind.LOAD_BEGIN)
                    .isPresent()) {
                asked = null;
            }
        }

        /** The same readings without those beyond all scales. */
        private double[] toScale(At at, double[] given) {
            double[] values = given;
            for (Lane lane : lanes) {
                double value = lane.scale.add(at, given[lane.index]);
                if (Double.isNaN(value) && !Double.isNaN(given[lane.index])) {
                    values = values == given ? given.clone() : values;
                    values[lane.index] = Double.NaN;
                }
            }
            return values;
        }

        /** The same readings without those that cannot be. */
        private double[] believed(At at, double[] read, double seconds) {
            double[] values = read;
            for (Lane lane : watched) {
                double value =
                        lane.sensor.add(at, read[lane.index], seconds, lane.part.atWork, value(read, lane.powerOfPart));
                if (Double.isNaN(value) && !Double.isNaN(read[lane.index])) {
                    values = values == read ? read.clone() : values;
                    values[lane.index] = Double.NaN;
                }
            }
            return values;
        }

        void sample(At at, Instant utc, double[] given) {
            double[] read = toScale(at, given);
            double seconds = last == null ? 0 : at.seconds() - last.seconds();
            gapTo(at);
            // The first step of a stage begins with the stage, not with the sample before it.
            double share = 1;
            if (stage != null && seconds > 0 && at.seconds() - seconds < stage.begin.seconds()) {
                share = Math.min(1, (at.seconds() - stage.begin.seconds()) / seconds);
            }
            for (Lane lane : counters) {
                lane.increase = previous == null ? 0 : increase(previous[lane.index], read[lane.index]);
            }
            for (Lane lane : works) {
                lane.part.atWork = false;
            }
            double work = Double.NaN;
            for (Lane lane : works) {
                lane.part.atWork |= lane.increase > 0;
                if (lane.increase > 0) {
                    asks.work(at);
                }
                lane.part.verifiedWork = plus(lane.part.verifiedWork, lane.increase);
                if (lane.proved) {
                    work = plus(work, lane.increase);
                }
            }
            double[] values = believed(at, read, seconds);
            double errors = 0;
            for (Lane lane : errorCounts) {
                if (!Double.isNaN(values[lane.index])) {
                    lane.part.workErrors = plus(lane.part.workErrors, lane.increase);
                }
                errors += lane.proved ? lane.increase : 0;
                if (lane.proved && !Double.isNaN(values[lane.index])) {
                    stage.workErrors = plus(stage.workErrors, lane.increase);
                }
            }
            for (Lane lane : platformErrors) {
                lane.platformErrors.add(at, values[lane.index], lane.increase, seconds, stage);
            }
            boolean onMains = adapter >= 0 && values[adapter] == 1;
            for (Lane lane : limits) {
                double value = values[lane.index];
                if (onMains && !Double.isNaN(value) && !(lane.part.highestLimitOnMains >= value)) {
                    lane.part.highestLimitOnMains = value;
                }
            }
            boolean held = false;
            for (Lane lane : throttled) {
                double value = values[lane.index];
                boolean restarted = lane.counter && previous != null && value < previous[lane.index];
                held |= lane.throttle.add(at, value, lane.increase, restarted);
            }
            if (stage != null && stage.clock != null) {
                stage.clock.add(
                        at,
                        seconds,
                        value(values, clock),
                        value(values, utilization),
                        value(values, power),
                        value(values, limit),
                        held);
            }
            for (PowerLanes p : powers) {
                p.scan.add(at.seconds(), value(values, p.energy), value(values, p.power), value(values, p.awake));
            }
            supply.add(at, values, seconds, stage == null ? -1 : stages.size());
            fans.add(at, values, seconds);
            awake.add(at, values);
            if (thermal.length > 0) {
                warm(at, values);
            }
            for (Lane lane : drawn) {
                draw(lane, at, read[lane.index], seconds);
            }
            for (Lane lane : tracked) {
                lane.track.add(at.seconds(), values[lane.index]);
            }
            for (Lane lane : temperatureLanes) {
                lane.celsius = values[lane.index];
                lane.temperature.add(at, values[lane.index]);
            }
            if (stage != null && stage.part().isPresent() && seconds > 0) {
                step(at, values, seconds * share, work * share, errors, share, onMains);
            }
            keep(values);
            if (first == null) {
                first = at;
            }
            last = at;
            lastUtc = utc;
            count++;
            lastMinute.add(at.seconds(), values);
        }

        /** The last sample's temperatures, by channel. */
        Map<String, Double> celsius() {
            return Arrays.stream(temperatureLanes)
                    .filter(lane -> !Double.isNaN(lane.celsius))
                    .collect(Collectors.toMap(lane -> lane.channel.id(), lane -> lane.celsius));
        }

        /** The time before the first sample and after the last one counts too: there the log says nothing either. */
        void gapTo(At at) {
            At from = last == null ? tableAt : last;
            if (from != null && at.segment() == from.segment() && at.seconds() - from.seconds() > longestGap) {
                longestGap = at.seconds() - from.seconds();
                gapAt = at;
            }
        }

        private void step(
                At at, double[] values, double seconds, double work, double errors, double share, boolean onMains) {
            double joules = Double.NaN;
            if (energy >= 0 && !Double.isNaN(values[energy])) {
                joules = lanes[energy].increase * share;
            } else if (power >= 0 && !Double.isNaN(values[power])) {
                joules = values[power] * seconds;
            }
            stage.powerReadable |= !Double.isNaN(joules);
            if (!Double.isNaN(work)) {
                stage.verifiedWork += work;
            }
            double limitOnMains = limit >= 0 && onMains ? values[limit] : Double.NaN;
            stage.track.add(at, seconds, work, errors, joules, limitOnMains);
        }

        private void draw(Lane lane, At at, double value, double seconds) {
            if (!lane.counter) {
                lane.series.add(at.seconds(), value);
            } else if (seconds > 0) {
                lane.series.add(at.seconds(), Double.isNaN(value) ? Double.NaN : lane.increase / seconds);
            }
        }

        /** A counter that was not read keeps its last value, so that nothing between two readings is lost. */
        private void keep(double[] values) {
            if (previous == null) {
                previous = values.clone();
                return;
            }
            for (Lane lane : counters) {
                if (!Double.isNaN(values[lane.index])) {
                    previous[lane.index] = values[lane.index];
                }
            }
        }

        Segment finish() {
            flushSeries();
            samplesDue += first == null ? 0 : 1 + Math.round((last.seconds() - first.seconds()) / periodSeconds);
            double until = last == null ? 0 : last.seconds();
            return new Segment(
                    boot,
                    bootPlace,
                    Optional.ofNullable(evidence),
                    count,
                    first,
                    last,
                    Optional.ofNullable(lastUtc),
                    longestGap,
                    gapAt,
                    lastMinute,
                    lastEvents.stream()
                            .filter(e -> e.at().seconds() >= until - LAST_EVENTS_SECONDS)
                            .toList(),
                    Optional.ofNullable(asked));
        }

        private void flushSeries() {
            for (Lane lane : lanes) {
                if (lane.series != null && !lane.series.isEmpty()) {
                    series.add(lane.series.finish());
                }
            }
        }

        private final class Lane {
            final Channel channel;
            final int index;
            final PartScan part;
            final boolean counter;
            final boolean work;
            final boolean errors;
            final boolean limitOfPower;
            final TemperatureScan temperature;
            final SensorScan sensor;
            final ScaleScan scale;
            final SeriesScan series;
            final ErrorScan platformErrors;
            ThrottleTally throttle;
            TemperatureTrack track;
            double celsius = Double.NaN;
            boolean proved;
            double increase;
            int powerOfPart = -1;

            Lane(Channel channel, int index) {
                this.channel = channel;
                this.index = index;
                this.part = parts.computeIfAbsent(channel.role(), role -> new PartScan());
                this.counter = channel.metric().kind() == ChannelKind.COUNTER;
                this.work = channel.measures(Metric.WORK_VERIFIED);
                this.errors = channel.measures(Metric.WORK_ERRORS);
                this.limitOfPower = channel.measures(Metric.POWER_LIMIT);
                this.temperature = temperatures.get(channel.id());
                this.sensor = sensors.get(channel.id());
                this.scale = scales.get(channel.id());
                this.platformErrors = PLATFORM_ERRORS.contains(channel.metric().name())
                        ? errorCounters.computeIfAbsent(channel.id(), id -> new ErrorScan(channel))
                        : null;
                this.series =
                        options.series() ? new SeriesScan(channel, boot.at().segment(), periodSeconds) : null;
            }

            private boolean isOfTheChip() {
                return channel.isOfTheChip(
                        Arrays.stream(lanes).map(lane -> lane.channel).toList());
            }

            void enter(StageScan entered, Role role) {
                proved = channel.role() == role;
                throttle = null;
                track = temperature != null && entered.tracks(channel) && isOfTheChip()
                        ? entered.temperatures.computeIfAbsent(
                                channel.id(), id -> new TemperatureTrack(channel, entered.begin, room))
                        : null;
                if (proved && channel.metric().name().startsWith("lw.throttle.")) {
                    throttle = new ThrottleTally(channel, entered.begin, entered.goesOnAndOff());
                    entered.throttles.add(throttle);
                }
            }
        }
    }

    /** What is added up for one part over the whole run; NaN where nothing was read. */
    private static final class PartScan {
        private double highestLimitOnMains = Double.NaN;
        private double verifiedWork = Double.NaN;
        private double workErrors = Double.NaN;
        private boolean atWork;
    }

    /** Where the power of one part stands in a sample: places, or −1 for what it does not tell. */
    private record PowerLanes(int energy, int power, int awake, PowerScan scan) {}

    /** Where something that makes or moves heat stands in a sample; {@code counter} if it counts joules. */
    private record ThermalLane(int index, boolean counter, ThermalScan.Line line) {}

    private static double value(double[] values, int index) {
        return index < 0 ? Double.NaN : values[index];
    }

    private static double plus(double sum, double value) {
        return Double.isNaN(sum) ? value : sum + value;
    }

    /** Growth of a counter; a decrease is a reset, after which it counts from zero. */
    private static double increase(double before, double now) {
        if (Double.isNaN(before) || Double.isNaN(now)) {
            return 0;
        }
        return now >= before ? now - before : now;
    }
}
