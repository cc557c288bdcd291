// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.sensor.DropoutSource;
import dev.loadwitness.agent.sensor.Readings;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.time.Duration;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.EnumMap;
import java.util.EnumSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Queue;
import java.util.Set;
import java.util.concurrent.ConcurrentLinkedQueue;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicReference;
import java.util.function.LongSupplier;
import java.util.stream.Collectors;

/**
 * One run of a procedure, as a step that takes what is due and says when to call again. It never sleeps; the thread, the
 * sleep and the stop are somebody else's. {@link #tell} and {@link #requestStop} may be called from any thread, all
 * else from one.
 */
public final class Run {
    /**
     * A load that looks for its heaviest form before it is ready loads its part fully meanwhile. A device that slept has
     * woken by then, and its sensors answer.
     */
    private static final long GUARD_NANOS = TimeUnit.SECONDS.toNanos(10);

    private static final long CAUGHT_NANOS = TimeUnit.SECONDS.toNanos(20);
    private static final long LOOK_NANOS = TimeUnit.MILLISECONDS.toNanos(100);

    /** A limit that moves by less is rounding. */
    private static final double LIMIT_CHANGE = 0.01;

    private final Procedure procedure;
    private final SensorBank bank;
    private final Dropout dropout;
    private final Work.Starter starter;
    private final Sink sink;
    private final RunClock clock;
    private final Guard guard;
    private final Watch watch;
    private final Beginning beginning;

    private final List<Channel> channels;
    private final List<Role> workRoles;
    private final EnumMap<Role, Long> verifiedBefore = new EnumMap<>(Role.class);
    private final EnumMap<Role, Long> errorsBefore = new EnumMap<>(Role.class);
    private final double[] lastLimit;
    private double[] lastValues = {};
    private Optional<Boolean> onMains = Optional.empty();

    private final Queue<Told> told = new ConcurrentLinkedQueue<>();
    private final AtomicReference<StopRequest> stopRequest = new AtomicReference<>();

    private long samples;
    private long events;
    private long nextSampleNanos;
    private int stageIndex;
    private volatile Phase phase = Phase.BEFORE;
    private volatile Asking asking;
    private volatile boolean leaveOut;
    private volatile boolean leftOpen;
    private boolean askedBefore;
    private double askedSecondsAgo = Double.NaN;
    private long phaseEndsNanos;
    private final List<Work> works = new ArrayList<>();
    private long guardDueNanos;
    private boolean guardChecked;
    private boolean dropoutCaught;
    private String ended = "";

    /**
     * The source that will be made to hang, to prove that a silent sensor is noticed.
     *
     * @param standIn true if the machine has no sensor, so that a made-up one had to serve
     */
    public record Dropout(DropoutSource source, boolean standIn) {
        public Dropout {
            requireNonNull(source, "source");
        }
    }

    /**
     * Where a run begins or goes on.
     *
     * @param segment of the log; 0 for a run that begins
     * @param stage index of the first stage to run: those before it have ended
     * @param samples in the log before this segment
     * @param events in the log before this segment
     */
    public record Beginning(int segment, int stage, long samples, long events) {
        /** Of a new run. */
        public static final Beginning NEW = new Beginning(0, 0, 0, 0);
    }

    private record Told(EventKind kind, Map<String, Object> facts) {}

    private record StopRequest(CloseReason reason, String detail) {}

    private enum Phase {
        BEFORE,
        /** A person has something to do; no load is on. */
        ASKING,
        /** Loads are starting. */
        STARTING,
        /** Faults are planted and must be caught. */
        CHECKING,
        RUNNING,
        ENDED
    }

    /**
     * Makes a run that has not begun.
     *
     * @param bank of all sources, the dropout's among them
     * @param heartbeatGapNanos longest gap of a thread that does no input or output, since last asked
     */
    public Run(
            Procedure procedure,
            SensorBank bank,
            Dropout dropout,
            Work.Starter starter,
            Sink sink,
            RunClock clock,
            LongSupplier heartbeatGapNanos) {
        this(procedure, bank, dropout, starter, sink, clock, heartbeatGapNanos, Beginning.NEW);
    }

    /** The same for a run that may go on after an interruption. */
    public Run(
            Procedure procedure,
            SensorBank bank,
            Dropout dropout,
            Work.Starter starter,
            Sink sink,
            RunClock clock,
            LongSupplier heartbeatGapNanos,
            Beginning beginning) {
        this.procedure = requireNonNull(procedure, "procedure");
        this.bank = requireNonNull(bank, "bank");
        this.dropout = requireNonNull(dropout, "dropout");
        this.starter = requireNonNull(starter, "starter");
        this.sink = requireNonNull(sink, "sink");
        this.clock = requireNonNull(clock, "clock");
        this.beginning = requireNonNull(beginning, "beginning");
        this.stageIndex = beginning.stage - 1;
        this.samples = beginning.samples;
        this.events = beginning.events;
        this.workRoles = procedure.stages().stream()
                .flatMap(s -> s.loads().stream().map(l -> roleOf(l, s)))
                .distinct()
                .toList();
        this.channels = channels(bank.channels(), workRoles);
        this.lastLimit = new double[bank.channels().size()];
        Arrays.fill(lastLimit, Double.NaN);
        this.guard = new Guard(procedure.safety(), bank.channels());
        this.watch = new Watch(clock, heartbeatGapNanos);
    }

    private static List<Channel> channels(List<Channel> sensors, List<Role> workRoles) {
        List<Channel> all = new ArrayList<>(sensors);
        for (Role role : workRoles) {
            all.add(Channel.of(role.word() + ".work.verified", Metric.WORK_VERIFIED, role, "load"));
            all.add(Channel.of(role.word() + ".work.errors", Metric.WORK_ERRORS, role, "load"));
        }
        all.add(Channel.of("witness.lateness", Metric.SAMPLE_LATENESS, Role.WITNESS, "agent"));
        return List.copyOf(all);
    }

    static Role roleOf(LoadKind load, Stage stage) {
        return switch (load) {
            case CPU -> Role.CPU;
            case MEMORY -> Role.MEMORY;
            default -> stage.gpu().orElseThrow();
        };
    }

    /**
     * Parts that the procedure loads though no channel could ever watch their temperature, each with the first stage that
     * does; none if the procedure allows that.
     */
    public static Map<Role, Stage> unwatched(Procedure procedure, List<Channel> channels) {
        Map<Role, Stage> unwatched = new LinkedHashMap<>();
        Guard guard = new Guard(procedure.safety(), channels);
        if (!procedure.safety().allowUnguarded()) {
            for (Stage stage : procedure.stages()) {
                stage.loads().stream()
                        .map(load -> roleOf(load, stage))
                        .filter(role -> !guard.canWatch(role))
                        .forEach(role -> unwatched.putIfAbsent(role, stage));
            }
        }
        return unwatched;
    }

    /** Writes what precedes the first sample: boot and channel table. */
    public void begin(String bootId, boolean utcTrusted) {
        RunTime at = at();
        sink.append(new Boot(at, clock.wallClock(), bootId, clock.bootTimeSeconds(), utcTrusted, Optional.empty()));
        sink.append(new ChannelTable(at, channels));
        nextSampleNanos = clock.nanos();
    }

    /** Writes what precedes the first sample after an interruption; the boot record was written before anything else. */
    public void goOn() {
        sink.append(new ChannelTable(at(), channels));
        nextSampleNanos = clock.nanos();
    }

    /**
     * Lets a run that was interrupted go on with one of its stages. Call before the first step.
     *
     * @param stage id of the stage; what it asks for is asked, unless it is done
     * @param asked whether what it asks for has been seen to be done: the machine was off, and this is another boot
     * @param secondsAgo since it was asked; NaN if the clock cannot be trusted
     * @throws IllegalArgumentException if the procedure has no such stage
     */
    public void goOnWith(String stage, boolean asked, double secondsAgo) {
        List<String> ids = procedure.stages().stream().map(Stage::id).toList();
        if (!ids.contains(stage)) {
            throw new IllegalArgumentException("the procedure has no stage '" + stage + "'");
        }
        stageIndex = ids.indexOf(stage) - 1;
        askedBefore = asked;
        askedSecondsAgo = secondsAgo;
    }

    /** Leaves out the stage that waits for a person, at the next step; does nothing while none waits. */
    public void leaveOutWhatIsAsked() {
        leaveOut = asking != null;
    }

    /** True if it ended without closing its log, because the machine is being switched off as it asked. */
    public boolean isLeftOpen() {
        return leftOpen;
    }

    /** Something that another part saw and that belongs into the log. */
    public void tell(EventKind kind, Map<String, Object> facts) {
        told.add(new Told(kind, Map.copyOf(facts)));
    }

    /** Asks the run to end at its next step. The first request counts. */
    public void requestStop(CloseReason reason, String detail) {
        stopRequest.compareAndSet(null, new StopRequest(reason, detail));
    }

    public boolean hasEnded() {
        return phase == Phase.ENDED;
    }

    /** Takes what is due at {@code now} and returns when to call again. */
    public long step(long now) throws InterruptedException {
        if (phase == Phase.ENDED) {
            return Long.MAX_VALUE;
        }
        StopRequest request = stopRequest.get();
        if (request != null) {
            if (request.reason == CloseReason.OPERATOR_STOP && isAskedOff()) {
                leaveOpen("switched off as asked; 'resume' goes on with the run after the next start");
                return Long.MAX_VALUE;
            }
            writeTold();
            if (request.reason == CloseReason.OPERATOR_STOP) {
                event(EventKind.OPERATOR_STOP, Map.of("detail", request.detail));
            }
            end(request.reason, request.detail);
            return Long.MAX_VALUE;
        }
        if (now >= nextSampleNanos) {
            sample(now);
        }
        // After the sample: its time is that of this step's beginning, and times never go back in a log.
        if (phase != Phase.ENDED) {
            writeTold();
        }
        if (phase != Phase.ENDED) {
            checkWorks(now);
        }
        if (phase != Phase.ENDED) {
            advance(now);
        }
        return phase == Phase.ENDED ? Long.MAX_VALUE : Math.min(nextSampleNanos, now + LOOK_NANOS);
    }

    /** Whether the signal that ends us may be the shutdown that was asked for. */
    private boolean isAskedOff() {
        return phase == Phase.ASKING && asking.ask() == Ask.POWER_OFF;
    }

    /** Nothing more is written: what was asked must stand last, and the log stays open for the next boot. */
    private void leaveOpen(String why) {
        dropout.source().lift();
        phase = Phase.ENDED;
        leftOpen = true;
        ended = why;
    }

    private void writeTold() {
        for (Told t = told.poll(); t != null; t = told.poll()) {
            event(t.kind, t.facts);
        }
    }

    private void sample(long now) throws InterruptedException {
        double lateSeconds = (now - nextSampleNanos) / 1e9;
        Readings reading = bank.take(now);
        double[] values = Arrays.copyOf(reading.values(), channels.size());
        int next = bank.channels().size();
        for (Role role : workRoles) {
            values[next++] = verified(role);
            values[next++] = errors(role);
        }
        values[next] = lateSeconds;
        sink.append(new Sample(new RunTime(beginning.segment, now), clock.wallClock(), values));
        samples++;
        lastValues = values;
        // Samples that were missed are missed: a burst of catch-up reads would show in the readings.
        long period = procedure.samplingPeriod().toNanos();
        nextSampleNanos += period * Math.max(1, 1 + (now - nextSampleNanos) / period);

        reading.facts().forEach(this::sensorFact);
        double allVerified = workRoles.stream().mapToDouble(this::verified).sum();
        watch.look(lateSeconds, allVerified).forEach(this::seen);
        limits(values);
        adapter(values);
        if (asking != null) {
            asking.look(values, onMains);
        }
        works.forEach(w -> power(w, values));
        guard.look(now, reading.values(), loadedRoles()).ifPresent(this::safetyStop);
    }

    private void seen(Watch.Seen seen) {
        event(seen.kind(), seen.facts());
        if (asking != null && seen.kind() == EventKind.SUSPENDED) {
            asking.slept();
        }
    }

    private void sensorFact(SensorFact fact) {
        boolean planted =
                phase == Phase.CHECKING && fact.source().equals(dropout.source().name());
        fact.accept(new SensorFact.Handler<Void>() {
            @Override
            public Void silent(SensorFact.SourceSilent silent) {
                dropoutCaught |= planted;
                event(
                        EventKind.SOURCE_SILENT,
                        facts("source", silent.source(), "detail", silent.detail(), "planted", planted));
                return null;
            }

            @Override
            public Void back(SensorFact.SourceBack back) {
                event(
                        EventKind.SOURCE_BACK,
                        facts("source", back.source(), "seconds", back.after().toNanos() / 1e9));
                return null;
            }

            @Override
            public Void noticed(SensorFact.Noticed noticed) {
                event(noticed.kind(), noticed.facts());
                return null;
            }
        });
    }

    private void limits(double[] values) {
        for (int i = 0; i < lastLimit.length; i++) {
            if (!channels.get(i).measures(Metric.POWER_LIMIT) || Double.isNaN(values[i])) {
                continue;
            }
            if (Math.abs(values[i] - lastLimit[i]) > LIMIT_CHANGE * lastLimit[i]) {
                event(
                        EventKind.LIMIT_CHANGED,
                        facts("channel", channels.get(i).id(), "from", lastLimit[i], "to", values[i]));
            }
            lastLimit[i] = values[i];
        }
    }

    /** Tells a load what its part draws: by the sensor of the same device, else by any of the same role. */
    private void power(Work work, double[] values) {
        double watts = Double.NaN;
        for (int i = 0; i < bank.channels().size(); i++) {
            Channel c = channels.get(i);
            if (!c.is(roleOf(work.kind(), stage()), Metric.POWER) || Double.isNaN(values[i])) {
                continue;
            }
            boolean same = !work.component().isEmpty() && c.component().equals(work.component());
            if (same || Double.isNaN(watts)) {
                watts = values[i];
            }
            if (same) {
                break;
            }
        }
        if (!Double.isNaN(watts)) {
            work.power(watts);
        }
    }

    private void adapter(double[] values) {
        Optional<Boolean> now = guard.mains(values);
        if (now.isPresent() && onMains.isPresent() && !now.equals(onMains)) {
            event(now.get() ? EventKind.ADAPTER_ON : EventKind.ADAPTER_OFF, Map.of());
        }
        onMains = now.isPresent() ? now : onMains;
    }

    private void safetyStop(Guard.Stop stop) {
        stopWorks();
        event(EventKind.SAFETY_STOP, facts("role", stop.role().word(), "why", stop.why(), "detail", stop.detail()));
        end(CloseReason.SAFETY_STOP, stop.detail());
    }

    private void checkWorks(long now) {
        for (Work work : List.copyOf(works)) {
            for (Work.Fact fact : work.check(now)) {
                event(fact.kind(), fact.facts());
                if (fact.fatal()) {
                    end(CloseReason.LOAD_FAILED, "the " + work.kind().word() + " load is gone");
                    return;
                }
            }
        }
    }

    private void advance(long now) {
        switch (phase) {
            case BEFORE -> nextStage(now);
            case ASKING -> whenDone(now);
            case STARTING -> whenReady(now);
            case CHECKING -> whenCaught(now);
            case RUNNING -> {
                if (now >= phaseEndsNanos) {
                    endStage("completed");
                    nextStage(now);
                }
            }
            case ENDED -> {
                // Nothing is due any more.
            }
        }
    }

    private void nextStage(long now) {
        stageIndex++;
        if (stageIndex == procedure.stages().size()) {
            end(CloseReason.COMPLETED, "");
            return;
        }
        leaveOut = false;
        if (stage().asks().isPresent()) {
            ask(now);
        } else {
            prepare(now);
        }
    }

    private void ask(long now) {
        Ask what = stage().asks().orElseThrow();
        if (askedBefore) {
            askedBefore = false;
            done(now, what, askedSecondsAgo);
            return;
        }
        Asking ask = new Asking(stage(), procedure, channels, now);
        Optional<String> impossible = ask.impossible(lastValues, onMains, clock.bootTimeSeconds());
        if (impossible.isPresent()) {
            leaveOut(now, impossible.get());
            return;
        }
        // The temperature that must fall is that of a part which may be asleep; all else lets it sleep.
        bank.allowWaking(what == Ask.COOL_DOWN && stage().gpu().equals(Optional.of(Role.GPU_DISCRETE)));
        event(EventKind.OPERATOR_ASKED, facts("what", what.word(), "stage", stage().id()));
        asking = ask;
        phase = Phase.ASKING;
    }

    private void whenDone(long now) {
        Asking ask = asking;
        if (ask.isDone()) {
            asking = null;
            done(now, ask.ask(), ask.seconds(now));
        } else if (leaveOut || now >= ask.untilNanos()) {
            asking = null;
            leaveOut(now, leaveOut ? "by the operator" : ask.missed());
        }
    }

    private void done(long now, Ask what, double seconds) {
        Map<String, Object> facts = facts("what", what.word(), "stage", stage().id());
        if (!Double.isNaN(seconds)) {
            facts.put("seconds", seconds);
        }
        event(EventKind.OPERATOR_DONE, facts);
        prepare(now);
    }

    private void leaveOut(long now, String why) {
        event(EventKind.STAGE_LEFT_OUT, facts("stage", stage().id(), "why", why));
        nextStage(now);
    }

    private void prepare(long now) {
        Stage stage = stage();
        bank.allowWaking(stage.gpu().equals(Optional.of(Role.GPU_DISCRETE)));
        if (stage.loads().isEmpty()) {
            beginStage(now);
            return;
        }
        phaseEndsNanos = now;
        guardDueNanos = now + GUARD_NANOS;
        guardChecked = false;
        for (LoadKind load : stage.loads()) {
            try {
                Work work = starter.start(load, stage);
                works.add(work);
                Map<String, Object> begin =
                        facts("load", load.word(), "role", roleOf(load, stage).word(), "scheduling", work.scheduling());
                begin.putAll(work.device());
                event(EventKind.LOAD_BEGIN, begin);
                phaseEndsNanos =
                        Math.max(phaseEndsNanos, now + work.readyWithin().toNanos());
            } catch (IOException e) {
                end(CloseReason.LOAD_FAILED, "the " + load.word() + " load could not be started: " + e.getMessage());
                return;
            }
        }
        phase = Phase.STARTING;
    }

    private void whenReady(long now) {
        boolean allReady = works.stream().allMatch(Work::ready);
        // The library of a discrete GPU that was asleep until this stage may still be opening.
        boolean guardMayBeAsked = allReady && !guard.unguarded(loadedRoles()).contains(Role.GPU_DISCRETE);
        if (!guardChecked && (guardMayBeAsked || now >= guardDueNanos)) {
            guardChecked = true;
            if (!isGuarded()) {
                return;
            }
        }
        if (allReady && guardChecked) {
            works.forEach(Work::plant);
            dropoutCaught = false;
            dropout.source().plant();
            phase = Phase.CHECKING;
            phaseEndsNanos = now + CAUGHT_NANOS;
        } else if (now >= phaseEndsNanos) {
            String late = works.stream()
                    .filter(w -> !w.ready())
                    .map(w -> "the " + w.kind().word() + " load did not begin to work within "
                            + w.readyWithin().toSeconds() + " s")
                    .collect(Collectors.joining(", "));
            end(CloseReason.LOAD_FAILED, late);
        }
    }

    /** Ends the run and says no if a loaded part has nothing that watches it and the procedure does not allow that. */
    private boolean isGuarded() {
        Set<Role> unguarded = guard.unguarded(loadedRoles());
        for (Role role : unguarded) {
            event(EventKind.UNGUARDED, Map.of("role", role.word()));
        }
        if (unguarded.isEmpty() || procedure.safety().allowUnguarded()) {
            return true;
        }
        Role role = unguarded.iterator().next();
        safetyStop(new Guard.Stop(
                role,
                "unguarded",
                "no temperature sensor watches " + role.word() + ", and the procedure does not allow that"));
        return false;
    }

    private void whenCaught(long now) {
        if (dropoutCaught) {
            dropout.source().lift();
        }
        boolean allCaught = dropoutCaught && works.stream().allMatch(Work::plantCaught);
        if (!allCaught && now < phaseEndsNanos) {
            return;
        }
        dropout.source().lift();
        for (Work work : works) {
            event(
                    EventKind.WITNESS_CHECK,
                    facts(
                            "check",
                            "planted-miscomputation",
                            "caught",
                            work.plantCaught(),
                            "stage",
                            stage().id(),
                            "load",
                            work.kind().word()));
        }
        event(
                EventKind.WITNESS_CHECK,
                facts(
                        "check",
                        "planted-dropout",
                        "caught",
                        dropoutCaught,
                        "stage",
                        stage().id(),
                        "source",
                        dropout.source().name(),
                        "standIn",
                        dropout.standIn()));
        if (allCaught) {
            beginStage(now);
        } else {
            end(
                    CloseReason.WITNESS_BLIND,
                    dropoutCaught
                            ? "a planted wrong result was not caught"
                            : "a planted silent sensor was not noticed");
        }
    }

    private void beginStage(long now) {
        phase = Phase.RUNNING;
        phaseEndsNanos = now + stage().duration().toNanos();
        event(
                EventKind.STAGE_BEGIN,
                facts("stage", stage().id(), "seconds", stage().duration().toNanos() / 1e9));
    }

    private void endStage(String why) {
        event(EventKind.STAGE_END, facts("stage", stage().id(), "why", why));
        stopWorks();
    }

    private void stopWorks() {
        for (Work work : works) {
            work.stop();
            Role role = roleOf(work.kind(), stage());
            verifiedBefore.merge(role, work.verified(), Long::sum);
            errorsBefore.merge(role, work.errors(), Long::sum);
            event(EventKind.LOAD_END, facts("load", work.kind().word(), "why", "stopped"));
        }
        works.clear();
    }

    private void end(CloseReason reason, String detail) {
        boolean inStage =
                phase == Phase.RUNNING && stageIndex < procedure.stages().size();
        dropout.source().lift();
        if (inStage && reason != CloseReason.COMPLETED) {
            stopWorks(); // the load comes off before anything is written about it
            event(EventKind.STAGE_END, facts("stage", stage().id(), "why", "stopped"));
        } else {
            stopWorks();
        }
        phase = Phase.ENDED;
        ended = reason.word() + (detail.isEmpty() ? "" : ": " + detail);
        sink.append(new Close(at(), clock.wallClock(), reason.word(), detail, samples, events));
    }

    private Stage stage() {
        return procedure.stages().get(stageIndex);
    }

    private Set<Role> loadedRoles() {
        Set<Role> roles = EnumSet.noneOf(Role.class);
        works.forEach(w -> roles.add(roleOf(w.kind(), stage())));
        return roles;
    }

    private double verified(Role role) {
        long sum = verifiedBefore.getOrDefault(role, 0L);
        for (Work work : works) {
            sum += roleOf(work.kind(), stage()) == role ? work.verified() : 0;
        }
        return sum;
    }

    private double errors(Role role) {
        long sum = errorsBefore.getOrDefault(role, 0L);
        for (Work work : works) {
            sum += roleOf(work.kind(), stage()) == role ? work.errors() : 0;
        }
        return sum;
    }

    private void event(EventKind kind, Map<String, Object> facts) {
        sink.append(Event.of(at(), clock.wallClock(), kind, facts));
        events++;
    }

    private RunTime at() {
        return new RunTime(beginning.segment, clock.nanos());
    }

    private static Map<String, Object> facts(Object... namesAndValues) {
        Map<String, Object> facts = new LinkedHashMap<>();
        for (int i = 0; i < namesAndValues.length; i += 2) {
            facts.put((String) namesAndValues[i], namesAndValues[i + 1]);
        }
        return facts;
    }

    /** Where the run stands. */
    public Status status() {
        long now = clock.nanos();
        boolean inStage = stageIndex >= 0 && stageIndex < procedure.stages().size();
        Duration stageLeft = Duration.ZERO;
        if (inStage) {
            stageLeft =
                    phase == Phase.RUNNING ? Duration.ofNanos(Math.max(0, phaseEndsNanos - now)) : stage().duration();
        }
        Asking ask = asking;
        Optional<Status.Asked> asked = phase == Phase.ASKING && ask != null
                ? Optional.of(new Status.Asked(
                        ask.ask(), ask.isHalfDone(), Duration.ofNanos(Math.max(0, ask.untilNanos() - now))))
                : Optional.empty();
        Duration left = stageLeft;
        for (int i = Math.max(0, stageIndex + 1); i < procedure.stages().size(); i++) {
            left = left.plus(procedure.stages().get(i).duration());
        }
        return new Status(
                inStage ? stage().id() : "",
                phase == Phase.STARTING || phase == Phase.CHECKING,
                asked,
                stageLeft,
                phase == Phase.ENDED ? Duration.ZERO : left,
                phase == Phase.ENDED ? Optional.of(ended) : Optional.empty(),
                channels,
                Arrays.stream(lastValues).boxed().toList());
    }
}
