// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.sensor.DropoutSource;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.time.Duration;
import java.util.Arrays;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.concurrent.TimeUnit;
import java.util.function.LongSupplier;
import org.jspecify.annotations.Nullable;

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

    private final Procedure procedure;
    private final SensorBank bank;
    private final RunClock clock;
    private final Records records;
    private final Loads loads;
    private final WitnessCheck witnessCheck;
    private final Guard guard;
    private final Sampling sampling;
    private final Inbox inbox = new Inbox();

    private int stageIndex;
    private volatile Phase phase = Phase.BEFORE;
    private volatile @Nullable Asking asking;
    private volatile boolean leaveOut;
    private volatile boolean leftOpen;
    private boolean askedBefore;
    private double askedSecondsAgo = Double.NaN;
    private long phaseEndsNanos;
    private long guardDueNanos;
    private boolean guardChecked;
    private String ended = "";

    /**
     * The source that will be made to hang, to prove that a silent sensor is noticed.
     *
     * @param standIn true if the machine has no sensor, so that a made-up one had to serve
     */
    public record Dropout(DropoutSource source, boolean standIn) {}

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
            LongSupplier heartbeatGapNanos,
            Beginning beginning) {
        this.procedure = procedure;
        this.bank = bank;
        this.clock = clock;
        this.stageIndex = beginning.stage - 1;
        this.records = new Records(sink, clock, beginning);
        this.loads = new Loads(procedure, starter, records);
        this.witnessCheck = new WitnessCheck(dropout, records);
        this.guard = new Guard(procedure.safety(), bank.channels());
        this.sampling = new Sampling(procedure, bank, clock, heartbeatGapNanos, loads, witnessCheck, records);
    }

    /** Writes what precedes the first sample: boot and channel table. */
    public void begin(String bootId, boolean utcTrusted) {
        records.begin(bootId, utcTrusted, sampling.channels());
        sampling.begin();
    }

    /** Writes what precedes the first sample after an interruption; the boot record was written before anything else. */
    public void goOn() {
        records.goOn(sampling.channels());
        sampling.begin();
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
        inbox.tell(kind, facts);
    }

    /** Asks the run to end at its next step. The first request counts. */
    public void requestStop(CloseReason reason, String detail) {
        inbox.requestStop(reason, detail);
    }

    public boolean hasEnded() {
        return phase == Phase.ENDED;
    }

    /** Takes what is due at {@code now} and returns when to call again. */
    public long step(long now) throws InterruptedException {
        if (phase == Phase.ENDED) {
            return Long.MAX_VALUE;
        }
        Optional<Inbox.StopRequest> request = inbox.stop();
        if (request.isPresent()) {
            stop(request.get());
            return Long.MAX_VALUE;
        }
        if (now >= sampling.nextNanos()) {
            sampling.take(now, asking);
            guard.look(now, sampling.last(), loads.loaded()).ifPresent(this::safetyStop);
        }
        // After the sample: its time is that of this step's beginning, and times never go back in a log.
        if (phase != Phase.ENDED) {
            inbox.writeTold(records);
        }
        if (phase != Phase.ENDED) {
            loads.check(now).ifPresent(gone -> end(CloseReason.LOAD_FAILED, gone));
        }
        if (phase != Phase.ENDED) {
            advance(now);
        }
        return phase == Phase.ENDED ? Long.MAX_VALUE : Math.min(sampling.nextNanos(), now + LOOK_NANOS);
    }

    private void stop(Inbox.StopRequest request) {
        if (request.reason() == CloseReason.OPERATOR_STOP && isAskedOff()) {
            leaveOpen("switched off as asked; 'resume' goes on with the run after the next start");
            return;
        }
        inbox.writeTold(records);
        if (request.reason() == CloseReason.OPERATOR_STOP) {
            records.event(EventKind.OPERATOR_STOP, "detail", request.detail());
        }
        end(request.reason(), request.detail());
    }

    /** Whether the signal that ends us may be the shutdown that was asked for. */
    private boolean isAskedOff() {
        Asking now = asking;
        return phase == Phase.ASKING && now != null && now.ask() == Ask.POWER_OFF;
    }

    /** Nothing more is written: what was asked must stand last, and the log stays open for the next boot. */
    private void leaveOpen(String why) {
        witnessCheck.lift();
        phase = Phase.ENDED;
        leftOpen = true;
        ended = why;
    }

    private void safetyStop(Guard.Stop stop) {
        loads.stop();
        records.event(EventKind.SAFETY_STOP, "role", stop.role().word(), "why", stop.why(), "detail", stop.detail());
        end(CloseReason.SAFETY_STOP, stop.detail());
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
        Asking ask = new Asking(stage(), procedure, sampling.channels(), now);
        Optional<String> impossible = ask.impossible(sampling.last(), sampling.onMains(), clock.bootTimeSeconds());
        if (impossible.isPresent()) {
            leaveOut(now, impossible.get());
            return;
        }
        // The temperature that must fall is that of a part which may be asleep; all else lets it sleep.
        bank.allowWaking(what == Ask.COOL_DOWN && stage().gpu().equals(Optional.of(Role.GPU_DISCRETE)));
        records.event(EventKind.OPERATOR_ASKED, "what", what.word(), "stage", stage().id());
        asking = ask;
        phase = Phase.ASKING;
    }

    private void whenDone(long now) {
        Asking ask = requireNonNull(asking, "what this phase is about");
        if (ask.isDone()) {
            asking = null;
            done(now, ask.ask(), ask.seconds(now));
        } else if (leaveOut || now >= ask.untilNanos()) {
            asking = null;
            leaveOut(now, leaveOut ? "by the operator" : ask.missed());
        }
    }

    private void done(long now, Ask what, double seconds) {
        Map<String, Object> facts = Records.facts("what", what.word(), "stage", stage().id());
        if (!Double.isNaN(seconds)) {
            facts.put("seconds", seconds);
        }
        records.event(EventKind.OPERATOR_DONE, facts);
        prepare(now);
    }

    private void leaveOut(long now, String why) {
        records.event(EventKind.STAGE_LEFT_OUT, "stage", stage().id(), "why", why);
        nextStage(now);
    }

    private void prepare(long now) {
        Stage stage = stage();
        bank.allowWaking(stage.gpu().equals(Optional.of(Role.GPU_DISCRETE)));
        if (stage.loads().isEmpty()) {
            beginStage(now);
            return;
        }
        guardDueNanos = now + GUARD_NANOS;
        guardChecked = false;
        Optional<String> failed = loads.start(stage);
        if (failed.isPresent()) {
            end(CloseReason.LOAD_FAILED, failed.get());
            return;
        }
        phase = Phase.STARTING;
        phaseEndsNanos = now + loads.readyWithinNanos();
    }

    private void whenReady(long now) {
        boolean allReady = loads.areReady();
        // The library of a discrete GPU that was asleep until this stage may still be opening.
        boolean guardMayBeAsked = allReady && !guard.unguarded(loads.loaded()).contains(Role.GPU_DISCRETE);
        if (!guardChecked && (guardMayBeAsked || now >= guardDueNanos)) {
            guardChecked = true;
            if (!isGuarded()) {
                return;
            }
        }
        if (allReady && guardChecked) {
            witnessCheck.plant(loads.running());
            phase = Phase.CHECKING;
            phaseEndsNanos = now + CAUGHT_NANOS;
        } else if (now >= phaseEndsNanos) {
            end(CloseReason.LOAD_FAILED, loads.late());
        }
    }

    /** Ends the run and says no if a loaded part has nothing that watches it and the procedure does not allow that. */
    private boolean isGuarded() {
        Set<Role> unguarded = guard.unguarded(loads.loaded());
        for (Role role : unguarded) {
            records.event(EventKind.UNGUARDED, "role", role.word());
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
        boolean allCaught = witnessCheck.caught(loads.running());
        if (!allCaught && now < phaseEndsNanos) {
            return;
        }
        witnessCheck.lift();
        witnessCheck.tell(stage(), loads.running());
        if (allCaught) {
            beginStage(now);
        } else {
            end(CloseReason.WITNESS_BLIND, witnessCheck.missed());
        }
    }

    private void beginStage(long now) {
        phase = Phase.RUNNING;
        phaseEndsNanos = now + stage().duration().toNanos();
        records.event(
                EventKind.STAGE_BEGIN,
                "stage",
                stage().id(),
                "seconds",
                stage().duration().toNanos() / 1e9);
    }

    private void endStage(String why) {
        records.event(EventKind.STAGE_END, "stage", stage().id(), "why", why);
        loads.stop();
    }

    private void end(CloseReason reason, String detail) {
        boolean inStage =
                phase == Phase.RUNNING && stageIndex < procedure.stages().size();
        witnessCheck.lift();
        if (inStage && reason != CloseReason.COMPLETED) {
            loads.stop(); // the load comes off before anything is written about it
            records.event(EventKind.STAGE_END, "stage", stage().id(), "why", "stopped");
        } else {
            loads.stop();
        }
        phase = Phase.ENDED;
        ended = reason.word() + (detail.isEmpty() ? "" : ": " + detail);
        records.close(reason, detail);
    }

    private Stage stage() {
        return procedure.stages().get(stageIndex);
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
                sampling.channels(),
                Arrays.stream(sampling.last()).boxed().toList());
    }
}
