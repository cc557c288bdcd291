// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.machine.MachineSensors;
import dev.loadwitness.agent.place.LogFolder;
import dev.loadwitness.agent.procedure.RailPlan;
import dev.loadwitness.agent.procedure.Terms;
import dev.loadwitness.agent.program.Exit;
import dev.loadwitness.agent.program.Version;
import dev.loadwitness.agent.screen.Cautions;
import dev.loadwitness.agent.screen.Screen;
import dev.loadwitness.agent.screen.SkipKey;
import dev.loadwitness.agent.storage.JournalNotes;
import dev.loadwitness.agent.storage.StorageEvents;
import dev.loadwitness.agent.storage.StorageWatch;
import dev.loadwitness.agent.work.GpuChoice;
import dev.loadwitness.agent.work.ProcessWork;
import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.process.MemoryFolder;
import dev.loadwitness.agent.resume.Decision;
import dev.loadwitness.agent.run.Heartbeat;
import dev.loadwitness.agent.run.Run;
import dev.loadwitness.agent.run.RunClock;
import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.common.Inventory;
import dev.loadwitness.agent.sensor.linux.LinuxFacts;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.disk.KernelFile;
import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Ending;
import dev.loadwitness.runlog.file.AttemptJournal;
import dev.loadwitness.runlog.file.LogStore;
import dev.loadwitness.runlog.file.RunLogWriter;
import dev.loadwitness.runlog.file.WriterOptions;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.EnumMap;
import java.util.HexFormat;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Set;
import java.util.TreeSet;
import java.util.concurrent.CountDownLatch;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicBoolean;
import java.util.concurrent.atomic.AtomicReference;
import java.util.concurrent.locks.LockSupport;
import java.util.function.Function;
import java.util.function.Predicate;
import java.util.stream.Collectors;

/** One run from its first check to its closed log: wires sensors, loads, writer and screen, and owns the thread. */
public final class Session {
    private static final String JOURNAL = "loadwitness-journal.jsonl";
    private static final String JOURNAL_FAILED = "this attempt could not be noted in the journal of attempts: ";
    private static final Duration JOURNAL_EVERY = Duration.ofMinutes(1);
    private static final Duration CLOSE_WITHIN = Duration.ofSeconds(10);

    /** Whoever sends a signal twice, as a system that shuts down, waits no longer than this. */
    private static final Duration WAIT_AFTER_SIGNAL = Duration.ofSeconds(60);

    private static final Duration FOREVER = Duration.ofDays(365);

    /** A clock that says less than this is wrong: this program did not exist then. */
    private static final Instant NOT_BEFORE = Instant.parse("2026-11-01T00:00:00Z");

    private final LoadLauncher launcher;
    private final GpuChoice.Wishes wishes;
    private final Map<Role, GpuChoice> gpus = new EnumMap<>(Role.class);
    private final Map<Stage, String> leftOut = new LinkedHashMap<>();
    private Procedure procedure;
    private final Optional<String> lengthened;
    private final Attachment procedureText;
    private final Optional<Attachment> jobSheet;
    private final RunOptions options;
    private final PrintStream out;
    private final boolean terminal;

    private final AtomicReference<Run> running = new AtomicReference<>();
    private Optional<AskedBefore> askedBefore = Optional.empty();
    private volatile CloseReason closeReason = CloseReason.AGENT_FAILED;
    private volatile boolean closed;
    private volatile boolean leftOpen;
    private volatile String leftOpenWhy = " stays open: 'resume' goes on with it after the next start";
    private long askedTicket;
    private volatile boolean signalled;
    private volatile boolean giveUp;
    private volatile int status = Exit.STOPPED;

    public Session(
            RailPlan plan,
            Attachment procedureText,
            Optional<Attachment> jobSheet,
            RunOptions options,
            GpuChoice.Wishes wishes,
            LoadLauncher launcher,
            PrintStream out,
            boolean terminal) {
        this.procedure = plan.procedure();
        this.lengthened = plan.lengthened();
        this.procedureText = requireNonNull(procedureText, "procedureText");
        this.jobSheet = requireNonNull(jobSheet, "jobSheet");
        this.options = requireNonNull(options, "options");
        this.wishes = requireNonNull(wishes, "wishes");
        this.launcher = requireNonNull(launcher, "launcher");
        this.out = requireNonNull(out, "out");
        this.terminal = terminal;
    }

    /** Runs to the end and returns the exit status. */
    public int run() throws Complaint, InterruptedException {
        checkDevices();
        BeforeRun.check(procedure, options, Home.ofThisProgram(), out, terminal);
        LogFolder place = LogFolder.open(options.out, options.workDir);
        try {
            return run(place);
        } catch (Complaint complaint) {
            if (running.get() == null) {
                place.abandon();
            }
            throw complaint;
        }
    }

    private int run(LogFolder place) throws Complaint, InterruptedException {
        Optional<Path> journal = journal(options.out);
        Inventory inventory = Inventory.take(Set.copyOf(options.withhold), LinuxFacts.of(Path.of("/")));
        Discovery discovery = discover(place, inventory);
        checkWatched(discovery);
        Header header = header(inventory, earlier(journal.map(AttemptJournal::new)));
        StorageEvents told = new StorageEvents();
        RunLogWriter writer = create(place.folder(), header, told);
        Optional<JournalNotes> notes = journal.map(j -> notes(new AttemptJournal(j), header.runId(), false, told));
        return carryThrough(writer, place, notes, storage -> {
            RunClock clock = RunClock.ofThisMachine();
            drive(discovery, writer, clock, told, Run.Beginning.NEW, storage, place, notes);
        });
    }

    /** Takes a run that broke off to its end, or closes it, as was decided. */
    public int goOn(Resumed resumed, LogFolder place) throws Complaint, InterruptedException {
        Header header = resumed.before().header();
        Optional<JournalNotes> notes = journal(options.out)
                .map(j -> notes(new AttemptJournal(j), header.runId(), !options.journalMayBeMade, resumed.told()));
        return carryThrough(resumed.writer(), place, notes, storage -> {
            if (!resumed.evidence().isEmpty()) {
                resumed.writer().append(new BootEvidence(at(resumed), resumed.evidence()));
                out.println(howItEnded(Ending.of(resumed.evidence())));
            }
            long told = tellLeftBehind(resumed);
            Decision decision = resumed.decision();
            if (decision.closed().isPresent()) {
                close(resumed, told, decision.closed().get(), decision.why());
                return;
            }
            procedure = procedure.withStages(decision.stages());
            Optional<String> lost = findAgain(resumed);
            if (lost.isPresent()) {
                close(resumed, told, CloseReason.DEVICE_ABSENT, lost.get());
                return;
            }
            List<Stage> left = leftOf(decision);
            out.println(howItGoesOn(decision, left));
            Terms terms = Terms.of(header, procedure, lengthened, left);
            if (Terms.hasLoad(left)) {
                terms.lines().forEach(out::println);
                Cautions.LINES.forEach(out::println);
            }
            if (!BeforeRun.isAgreed(terms, left, options, terminal)) {
                leftOpen = true;
                leftOpenWhy = notAgreed(terms);
                return;
            }
            Inventory inventory = Inventory.take(Set.copyOf(header.withheld()), LinuxFacts.of(Path.of("/")));
            Discovery discovery = discover(place, inventory);
            Run.Beginning beginning = new Run.Beginning(
                    resumed.now().at().segment(),
                    decision.stage(),
                    resumed.before().samples(),
                    resumed.before().events() + told);
            if (decision.askedFor()) {
                askedBefore = Optional.of(new AskedBefore(
                        resumed.before().powerOffAsked().orElseThrow(),
                        resumed.before().secondsSinceAsked(resumed.now())));
            }
            drive(discovery, resumed.writer(), resumed.clock(), resumed.told(), beginning, storage, place, notes);
        });
    }

    private Discovery discover(LogFolder place, Inventory inventory) {
        List<Path> own =
                List.of(place.folder(), options.out, Home.ofThisProgram().runs());
        return MachineSensors.discover(MachineSensors.wake(procedure), inventory::scrub)
                .and(MachineSensors.devices(own, inventory::scrub));
    }

    private List<Stage> leftOf(Decision decision) {
        return procedure.stages().subList(decision.stage(), procedure.stages().size());
    }

    private String notAgreed(Terms terms) {
        return " stays open, and no load was put on: 'resume' takes it up again."
                + (options.asShown.isEmpty() || options.asShown.equals(terms.digest())
                        ? ""
                        : " What it goes on with is not what was shown under " + options.asShown + ".")
                + (terminal
                        ? ""
                        : " On a terminal it asks for the word. A script whose user has seen the lines above, and stays"
                                + " with the machine, says --attended --as-shown " + terms.digest());
    }

    private static String howItGoesOn(Decision decision, List<Stage> left) {
        if (left.isEmpty()) {
            return "All its stages had ended: it is only closed";
        }
        return "It goes on with stage " + left.get(0).id()
                + (decision.askedFor()
                        ? ", which had asked for the power to be switched off"
                        : ", begun again: its procedure says on-interruption: go-on");
    }

    private static String howItEnded(Ending ending) {
        return "How it ended, by the evidence of this start. Shown: " + words(ending.shown()) + ". Not excluded: "
                + words(ending.open()) + ". Excluded: " + words(ending.excluded()) + ".";
    }

    private static String words(Map<EndCause, String> causes) {
        return causes.isEmpty()
                ? "nothing"
                : causes.keySet().stream().map(EndCause::word).collect(Collectors.joining(", "));
    }

    /** Says on screen and in the log what is wrong with it; returns how many events that took. */
    private long tellLeftBehind(Resumed resumed) {
        Optional<RunLogWriter.LeftBehind> leftBehind = resumed.writer().leftBehind();
        leftBehind
                .map(RunLogWriter.LeftBehind::damage)
                .or(resumed.before()::damage)
                .ifPresent(d -> out.println("The log is damaged, first at " + d.place() + " ("
                        + d.kind().word() + ", " + d.detail() + "). "
                        + leftBehind
                                .map(l -> l.records() + " whole records behind that place are left behind.")
                                .orElse("Nothing was taken out of it.")
                        + " 'judge' says so too."));
        leftBehind.ifPresent(l -> resumed.writer()
                .append(Event.of(
                        at(resumed),
                        Instant.now(),
                        EventKind.RECORDS_LEFT_BEHIND,
                        Map.of(
                                "count", (double) l.records(),
                                "damage", l.damage().kind().word(),
                                "place", l.damage().place().toString()))));
        return leftBehind.isPresent() ? 1 : 0;
    }

    private void close(Resumed resumed, long told, CloseReason reason, String why) {
        long events = resumed.before().events() + told;
        for (StorageEvents.Told untold : resumed.told().untold()) {
            resumed.writer().append(Event.of(at(resumed), Instant.now(), untold.kind(), untold.facts()));
            events++;
        }
        out.println("This run is closed: " + why);
        append(
                resumed.writer(),
                new Close(
                        at(resumed),
                        Instant.now(),
                        reason.word(),
                        why,
                        resumed.before().samples(),
                        events));
    }

    private static RunTime at(Resumed resumed) {
        return new RunTime(resumed.now().at().segment(), resumed.clock().nanos());
    }

    /** The devices that the run was on before; says which is gone. */
    private Optional<String> findAgain(Resumed resumed) throws InterruptedException {
        Set<Role> roles = leftOf(resumed.decision()).stream()
                .flatMap(s -> s.gpu().stream())
                .collect(Collectors.toCollection(TreeSet::new));
        if (roles.isEmpty()) {
            return Optional.empty();
        }
        LoadLauncher.Listing listing = launcher.devices();
        for (Role role : roles) {
            Optional<GpuChoice> choice =
                    GpuChoice.again(role, listing.devices(), resumed.before().gpuLoads());
            if (choice.isEmpty()) {
                return Optional.of(role.word() + " is not there any more"
                        + (listing.problem().isEmpty() ? "" : " (" + listing.problem() + ")") + "; OpenCL offers "
                        + GpuChoice.list(listing.devices()));
            }
            gpus.put(role, choice.get());
        }
        return Optional.empty();
    }

    /** The stage that had asked for the interruption; {@code secondsAgo} is NaN where the clocks do not tell. */
    private record AskedBefore(String stage, double secondsAgo) {}

    /** What is done between the log's begin and its end. */
    private interface Body {
        void run(StorageWatch storage) throws Complaint, InterruptedException;
    }

    private int carryThrough(RunLogWriter writer, LogFolder place, Optional<JournalNotes> notes, Body body)
            throws Complaint, InterruptedException {
        StorageWatch storage = new StorageWatch(writer);
        CountDownLatch finished = new CountDownLatch(1);
        MemoryFolder.keepUntil(finished);
        Runtime.getRuntime().addShutdownHook(new Thread(() -> stopProperly(finished), "stop properly"));
        try {
            String lost = "";
            try {
                body.run(storage);
            } finally {
                long left = settle(storage, place);
                if (left > 0) {
                    lost = storage.lost(left, place.writing().toString());
                    writer.close(Duration.ofMillis(1));
                } else {
                    lastNote(notes, writer);
                }
            }
            if (!lost.isEmpty()) {
                throw new Complaint(Sysexits.IO, lost);
            }
            if (leftOpen) {
                out.println(place.writing() + leftOpenWhy);
                status = Exit.STOPPED;
                return status;
            }
            place.deliver();
            place.delivered().forEach(out::println);
            out.flush();
            status = Exit.of(closeReason);
            return status;
        } catch (Complaint complaint) {
            status = complaint.status();
            if (signalled) {
                // Nobody above comes to say it any more.
                System.err.println(complaint.getMessage());
            }
            throw complaint;
        } finally {
            finished.countDown();
        }
    }

    private long settle(StorageWatch storage, LogFolder place) {
        Duration limit = Duration.ofSeconds(options.waitForLogSeconds());
        boolean ctrlC = terminal && options.waitForLog == null && !signalled;
        if (ctrlC) {
            limit = FOREVER;
        } else if (signalled && limit.compareTo(WAIT_AFTER_SIGNAL) > 0) {
            limit = WAIT_AFTER_SIGNAL;
        }
        return storage.settle(CLOSE_WITHIN, limit, out, place.writing().toString(), ctrlC, () -> giveUp);
    }

    /** Finds the devices before anything is touched, and leaves out the stages that may be. */
    private void checkDevices() throws Complaint, InterruptedException {
        if (options.skipAsks) {
            leaveOut(s -> s.asks().isPresent(), s -> "by --skip-asks");
        }
        Set<Role> asked = procedure.stages().stream()
                .flatMap(s -> s.gpu().stream())
                .collect(Collectors.toCollection(TreeSet::new));
        if (asked.isEmpty()) {
            return;
        }
        LoadLauncher.Listing listing = launcher.devices();
        for (Role role : asked) {
            Optional<GpuChoice> choice = GpuChoice.of(role, listing.devices(), wishes);
            choice.ifPresent(c -> gpus.put(role, c));
            if (choice.isEmpty() && procedure.requiredDevices().contains(role)) {
                throw new Complaint(
                        Sysexits.UNAVAILABLE,
                        procedureText.name() + " needs " + role.word() + ", and OpenCL offers none"
                                + (listing.problem().isEmpty() ? "" : " (" + listing.problem() + ")") + "; there is "
                                + GpuChoice.list(listing.devices())
                                + ". Nothing was started. Install the GPU's driver with its OpenCL part, or take a"
                                + " procedure without GPU loads, for example thresholds/quick-check.yaml");
            }
        }
        leaveOut(
                s -> s.gpu().isPresent() && !gpus.containsKey(s.gpu().get()),
                s -> "there is no " + s.gpu().orElseThrow().word() + " that OpenCL offers");
    }

    /** Better refused now than at the stage, after those before it. */
    private void checkWatched(Discovery discovery) throws Complaint {
        List<Channel> channels =
                discovery.sources().stream().flatMap(s -> s.channels().stream()).toList();
        Map<Role, Stage> unwatched = Run.unwatched(procedure, channels);
        if (!unwatched.isEmpty()) {
            String what = unwatched.entrySet().stream()
                    .map(e -> e.getKey().word() + " (loaded by stage "
                            + e.getValue().id() + ")")
                    .collect(Collectors.joining(" and "));
            throw new Complaint(
                    Sysexits.UNAVAILABLE,
                    "no temperature sensor watches " + what + ", and " + procedureText.name()
                            + " does not allow that. Nothing was started. 'probe' says what is missing and how to get it;"
                            + " who stays beside the machine may set safety: unguarded: allow in a procedure of their own");
        }
    }

    private void leaveOut(Predicate<Stage> which, Function<Stage, String> why) {
        procedure.stages().stream().filter(which).forEach(s -> leftOut.put(s, why.apply(s)));
        procedure = procedure.withStages(
                procedure.stages().stream().filter(which.negate()).toList());
    }

    private Optional<Path> journal(Path folder) {
        if (options.ticket == null) {
            return Optional.empty();
        }
        Path file = options.journal != null ? options.journal : journalBeside(folder);
        return Optional.of(file);
    }

    /** Where attempts are remembered for a log that lies in no ticket's folder. */
    static Path journalBeside(Path folder) {
        return folder.toAbsolutePath().normalize().resolveSibling(JOURNAL);
    }

    private List<EarlierAttempt> earlier(Optional<AttemptJournal> journal) throws Complaint {
        if (journal.isEmpty()) {
            return List.of();
        }
        try {
            AttemptJournal.Memory memory = journal.get().read(options.ticket);
            memory.warning().ifPresent(out::println);
            return memory.attempts();
        } catch (IOException e) {
            throw new Complaint(
                    Sysexits.NO_INPUT,
                    "the journal of earlier attempts cannot be read: " + e.getMessage()
                            + "; mend it or name another with --journal");
        }
    }

    private Header header(Inventory inventory, List<EarlierAttempt> earlier) {
        byte[] id = new byte[16];
        new SecureRandom().nextBytes(id);
        return new Header(
                HexFormat.of().formatHex(id),
                Instant.now(),
                options.ticket == null ? "" : options.ticket,
                options.nonce,
                earlier,
                false,
                inventory.facts(),
                List.copyOf(options.withhold),
                Version.text(),
                procedureText,
                jobSheet,
                options.ambientCelsius == null ? OptionalDouble.empty() : OptionalDouble.of(options.ambientCelsius),
                options.ambientCelsius == null ? "" : options.ambientHow,
                BeforeRun.promised(procedure));
    }

    private RunLogWriter create(Path folder, Header header, StorageEvents told) throws Complaint {
        try {
            return RunLogWriter.create(LogStore.in(folder), LogFolder.STEM, header, writerOptions(options, told));
        } catch (IOException e) {
            throw new Complaint(Sysexits.CANNOT_CREATE, e.getMessage());
        }
    }

    public static WriterOptions writerOptions(RunOptions options, StorageEvents told) {
        return WriterOptions.defaults(told).withQueueBytes(options.logMemoryKib * 1024L);
    }

    private void drive(
            Discovery discovery,
            RunLogWriter writer,
            RunClock clock,
            StorageEvents told,
            Run.Beginning beginning,
            StorageWatch storage,
            LogFolder place,
            Optional<JournalNotes> notes)
            throws InterruptedException {
        Dropouts dropouts = Dropouts.of(discovery.sources());
        try (SensorBank bank = new SensorBank(dropouts.sources(), SensorBank.deadlineFor(procedure.samplingPeriod()));
                Heartbeat heartbeat = new Heartbeat()) {
            Run run = new Run(
                    procedure,
                    bank,
                    dropouts.dropout(),
                    (kind, stage) -> ProcessWork.start(launcher, gpus, kind, stage),
                    logRecord -> append(writer, logRecord),
                    clock,
                    heartbeat::takeLongestGapNanos,
                    beginning);
            running.set(run);
            told.goTo(run);
            if (beginning.segment() == 0) {
                run.begin(bootId(), isPlausible());
            } else {
                run.goOn();
            }
            askedBefore.ifPresent(asked -> run.goOnWith(asked.stage(), true, asked.secondsAgo()));
            leftOut.forEach(
                    (stage, why) -> run.tell(EventKind.STAGE_LEFT_OUT, Map.of("stage", stage.id(), "why", why)));
            loop(run, clock, writer, storage, place, notes);
        }
    }

    private void append(RunLogWriter writer, LogRecord logRecord) {
        long ticket = writer.append(logRecord);
        if (logRecord instanceof Event event && event.known().equals(Optional.of(EventKind.OPERATOR_ASKED))) {
            askedTicket = ticket;
        }
        if (logRecord instanceof Close close) {
            closeReason = Word.find(CloseReason.class, close.reason()).orElseThrow();
            closed = true;
        }
    }

    private void loop(
            Run run,
            RunClock clock,
            RunLogWriter writer,
            StorageWatch storage,
            LogFolder place,
            Optional<JournalNotes> notes)
            throws InterruptedException {
        Screen screen = new Screen(out, terminal, heading(), place.writing().toString());
        long nextNote = 0;
        try {
            while (!run.hasEnded()) {
                long next = run.step(clock.nanos());
                long now = clock.nanos();
                // To be asked means to switch off, perhaps: the asking must be on the disk first.
                boolean mayAsk = writer.awaitDurable(askedTicket, Duration.ZERO);
                screen.show(mayAsk ? run.status() : run.status().notYetAsked(), storage.warning(), now);
                if (terminal && run.status().asked().isPresent() && SkipKey.wasTyped()) {
                    run.leaveOutWhatIsAsked();
                }
                storage.lostFor()
                        .ifPresent(why ->
                                run.requestStop(CloseReason.AGENT_FAILED, "the log can no longer be kept: " + why));
                storage.mustEnd().ifPresent(why -> run.requestStop(CloseReason.STORAGE_FULL, why));
                // The journal lies beside the log: where that cannot be written, this must not be tried either.
                if (notes.isPresent() && now >= nextNote && !storage.inTrouble()) {
                    notes.get().note(writer.position(), AttemptJournal.OPEN);
                    nextNote = now + JOURNAL_EVERY.toNanos();
                }
                if (next > now && !run.hasEnded()) {
                    LockSupport.parkNanos(next - now);
                }
            }
            if (run.isLeftOpen()) {
                leftOpen = true;
                closeReason = CloseReason.OPERATOR_STOP;
            }
        } catch (RuntimeException | Error e) {
            // The load must come off and the log be closed whatever our own defect is; then it is shown.
            run.requestStop(CloseReason.AGENT_FAILED, e.toString());
            run.step(clock.nanos());
            throw e;
        }
    }

    private List<String> heading() {
        List<String> lines = new ArrayList<>();
        lines.add((options.ticket == null ? "" : options.ticket + "   ") + procedure.title());
        lengthened.ifPresent(lines::add);
        return lines;
    }

    private JournalNotes notes(AttemptJournal journal, String runId, boolean isThere, StorageEvents told) {
        AtomicBoolean begun = new AtomicBoolean(isThere);
        return new JournalNotes(
                note -> {
                    if (begun.get()) {
                        journal.goOn(options.ticket, runId, Instant.now(), note.position(), note.end());
                    } else {
                        journal.append(options.ticket, runId, Instant.now(), note.position(), note.end());
                        begun.set(true);
                    }
                },
                why -> told.tell(EventKind.STORAGE_LOW, Map.of("detail", JOURNAL_FAILED + why)));
    }

    private void lastNote(Optional<JournalNotes> notes, RunLogWriter writer) throws InterruptedException {
        if (notes.isPresent()) {
            String end = closed ? closeReason.word() : AttemptJournal.OPEN;
            notes.get()
                    .finish(writer.position(), end, CLOSE_WITHIN)
                    .ifPresent(why -> out.println(JOURNAL_FAILED + why));
        }
    }

    /** On Ctrl-C, SIGTERM and SIGHUP: asks the run to end, and keeps the program alive until its log is closed. */
    private void stopProperly(CountDownLatch finished) {
        Run run = running.get();
        if (run == null || finished.getCount() == 0) {
            return; // an ordinary exit
        }
        giveUp = run.hasEnded(); // the run is over: it is the waiting for its disk that is to end
        signalled = true;
        run.requestStop(CloseReason.OPERATOR_STOP, "Ctrl-C or a signal");
        try {
            Duration most = CLOSE_WITHIN.plus(WAIT_AFTER_SIGNAL).plus(CLOSE_WITHIN);
            if (!finished.await(most.toSeconds(), TimeUnit.SECONDS)) {
                out.println("the log could not be closed in time");
            }
            // A signal would otherwise set an exit status of its own.
            MemoryFolder.removeNow();
            Runtime.getRuntime().halt(status);
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
    }

    /** False for a clock that tells a time before this program was made. */
    public static boolean isPlausible() {
        return Instant.now().isAfter(NOT_BEFORE);
    }

    public static String bootId() {
        try {
            return KernelFile.text(Path.of("/proc/sys/kernel/random/boot_id")).strip();
        } catch (IOException e) {
            return "";
        }
    }
}
