// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.stage;

import dev.loadwitness.reporter.scan.belief.WorkScan;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.follow.Counters;
import dev.loadwitness.reporter.scan.follow.Follower;
import dev.loadwitness.reporter.scan.follow.Room;
import dev.loadwitness.reporter.scan.follow.Step;
import dev.loadwitness.reporter.scan.heat.ThermalScan;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.EnumMap;
import java.util.EnumSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import org.jspecify.annotations.Nullable;

/** Follows one stage: its windows, what held the device back, powers and temperatures. Made where it begins, not registered. */
public final class StageScan implements Follower {
    private final Stage stage;
    private final At begin;
    private final StepScan steps;
    private final StageTally.WitnessChecks checks;
    private final double periodSeconds;
    private final Room room;
    private final WindowTrack track = new WindowTrack();
    private final Map<Channel, ThrottleTally> throttles = new LinkedHashMap<>();
    private final Map<Role, PowerScan> powers = new EnumMap<>(Role.class);
    private final Map<String, TemperatureTrack> temperatures = new LinkedHashMap<>();
    private final ThermalScan thermal;
    private @Nullable ClockTally clock;
    private double verifiedWork;
    private double workErrors = Double.NaN;
    private boolean powerReadable;

    private Places places = Places.NONE;
    private List<Throttled> throttled = List.of();
    private List<Powered> powered = List.of();
    private List<Tracked> tracked = List.of();

    /** Where it stands in the table what the part tells of itself; −1 for what it does not. */
    @SuppressWarnings("ArrayRecordComponent") // never compared
    private record Places(int[] work, int[] errors, int energy, int power, int limit, int clock, int utilization) {
        private static final Places NONE = new Places(new int[0], new int[0], -1, -1, -1, -1, -1);

        static Places of(Role part, ChannelTable table) {
            return new Places(
                    table.places(c -> c.is(part, Metric.WORK_VERIFIED)),
                    table.places(c -> c.is(part, Metric.WORK_ERRORS)),
                    table.find(part, Metric.ENERGY),
                    table.find(part, Metric.POWER),
                    table.find(part, Metric.POWER_LIMIT),
                    table.find(part, Metric.GPU_CLOCK),
                    table.find(part, Metric.GPU_UTILIZATION));
        }
    }

    private record Throttled(int place, ThrottleTally tally) {}

    private record Powered(int energy, int power, int awake, PowerScan scan) {}

    private record Tracked(int place, TemperatureTrack track) {}

    public StageScan(
            Stage stage,
            At begin,
            StageTally.WitnessChecks checks,
            Procedure judgedBy,
            double periodSeconds,
            Room room) {
        this.stage = stage;
        this.begin = begin;
        this.checks = checks;
        this.periodSeconds = periodSeconds;
        this.room = room;
        this.steps = new StepScan(judgedBy);
        this.thermal = new ThermalScan(begin, periodSeconds, room);
    }

    public Stage stage() {
        return stage;
    }

    public At begin() {
        return begin;
    }

    /** It begins among these channels, or goes on with them listed anew. */
    @Override
    public void table(ChannelTable table) {
        Optional<Role> part = part();
        places = part.map(role -> Places.of(role, table)).orElse(Places.NONE);
        throttled = part.map(role -> throttled(role, table)).orElse(List.of());
        powered = powered(table);
        tracked = Arrays.stream(table.places(c -> c.measures(Metric.TEMPERATURE) && tracks(c)))
                .filter(place -> table.channels().get(place).isOfTheChip(table.channels()))
                .mapToObj(place -> tracked(place, table.channels().get(place)))
                .toList();
        thermal.table(table);
        if (steadyLoad() && places.clock >= 0 && places.utilization >= 0 && clock == null) {
            clock = new ClockTally(begin);
        }
    }

    private List<Throttled> throttled(Role part, ChannelTable table) {
        return Arrays.stream(
                        table.places(c -> c.role() == part && c.metric().name().startsWith("lw.throttle.")))
                .mapToObj(place -> new Throttled(
                        place,
                        throttles.computeIfAbsent(
                                table.channels().get(place), c -> new ThrottleTally(c, begin, goesOnAndOff()))))
                .toList();
    }

    /** Every part that tells its power, with what it tells. */
    private List<Powered> powered(ChannelTable table) {
        Set<Role> roles = EnumSet.noneOf(Role.class);
        table.channels().forEach(c -> roles.add(c.role()));
        List<Powered> found = new ArrayList<>();
        for (Role role : roles) {
            int energy = table.find(role, Metric.ENERGY);
            int power = table.find(role, role == Role.BATTERY ? Metric.BATTERY_POWER : Metric.POWER);
            if (energy >= 0 || power >= 0) {
                PowerScan scan = powers.computeIfAbsent(role, r -> new PowerScan(r, begin, periodSeconds));
                found.add(new Powered(energy, power, table.find(role, Metric.DEVICE_AWAKE), scan));
            }
        }
        return found;
    }

    private Tracked tracked(int place, Channel channel) {
        return new Tracked(
                place, temperatures.computeIfAbsent(channel.id(), id -> new TemperatureTrack(channel, begin, room)));
    }

    @Override
    public void step(Step step) {
        At at = step.at();
        boolean held = false;
        for (Throttled t : throttled) {
            double value = step.values()[t.place];
            Counters counters = step.counters();
            held |= t.tally.add(at, value, counters.increase(t.place), counters.restarted(t.place, value));
        }
        if (clock != null) {
            clock.add(
                    at,
                    step.seconds(),
                    step.value(places.clock),
                    step.value(places.utilization),
                    step.value(places.power),
                    step.value(places.limit),
                    held);
        }
        for (Powered p : powered) {
            p.scan.add(at.seconds(), step.value(p.energy), step.value(p.power), step.value(p.awake));
        }
        thermal.step(step);
        for (Tracked t : tracked) {
            t.track.add(at.seconds(), step.values()[t.place]);
        }
        window(step);
    }

    private void window(Step step) {
        double errors = 0;
        for (int place : places.errors) {
            double increase = step.counters().increase(place);
            errors += increase;
            if (!Double.isNaN(step.values()[place])) {
                workErrors = WorkScan.plus(workErrors, increase);
            }
        }
        if (part().isEmpty() || !(step.seconds() > 0)) {
            return;
        }
        double work = Double.NaN;
        for (int place : places.work) {
            work = WorkScan.plus(work, step.counters().increase(place));
        }
        double seconds = step.seconds() * step.share();
        work *= step.share();
        double joules = Double.NaN;
        if (!Double.isNaN(step.value(places.energy))) {
            joules = step.counters().increase(places.energy) * step.share();
        } else if (!Double.isNaN(step.value(places.power))) {
            joules = step.value(places.power) * seconds;
        }
        powerReadable |= !Double.isNaN(joules);
        if (!Double.isNaN(work)) {
            verifiedWork += work;
        }
        double limitOnMains = step.onMains() ? step.value(places.limit) : Double.NaN;
        track.add(step.at(), seconds, work, errors, joules, limitOnMains);
    }

    /** The part that the stage proves, else the GPU that it loads. */
    public Optional<Role> part() {
        return stage.proves().or(stage::gpu);
    }

    /** Whether the channel belongs to the part that the stage proves. */
    private boolean tracks(Channel channel) {
        return stage.proves().filter(part -> part == channel.role()).isPresent();
    }

    private boolean goesOnAndOff() {
        return stage.loads().contains(LoadKind.GPU_STEPS);
    }

    /** Whether it proves a part by a load that neither comes and goes nor rises in steps. */
    private boolean steadyLoad() {
        return stage.proves().isPresent() && !goesOnAndOff() && !stage.loads().contains(LoadKind.GPU_RAMP);
    }

    /** Something was switched on command. */
    @Override
    public void event(At at, EventKind kind, Event event) {
        if (kind == EventKind.LOAD_EDGES) {
            steps.edges(at, event);
        } else if (kind == EventKind.LOAD_LEVEL) {
            steps.level(at, event);
            throttles.values().forEach(t -> t.edge(at.seconds()));
            if (clock != null) {
                clock.edge(at.seconds());
            }
        }
    }

    public StageTally finish(At end, String why) {
        track.finish();
        throttles.values().forEach(t -> t.finish(end));
        if (clock != null) {
            clock.finish(end);
        }
        return new StageTally(
                stage,
                begin,
                end,
                why,
                track.windows(),
                List.copyOf(throttles.values()),
                Optional.ofNullable(clock),
                powers.values().stream().map(PowerScan::finish).toList(),
                temperatures.values().stream().map(TemperatureTrack::finish).toList(),
                thermal.finish(),
                steps.finish(),
                verifiedWork,
                workErrors,
                powerReadable,
                checks);
    }
}
