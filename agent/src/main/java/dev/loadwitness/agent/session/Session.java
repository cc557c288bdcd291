// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.machine.MachineFacts;
import dev.loadwitness.agent.machine.MachineSensors;
import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.place.LogFolder;
import dev.loadwitness.agent.procedure.RailPlan;
import dev.loadwitness.agent.procedure.Terms;
import dev.loadwitness.agent.program.Version;
import dev.loadwitness.agent.resume.Decision;
import dev.loadwitness.agent.run.Heartbeat;
import dev.loadwitness.agent.run.Run;
import dev.loadwitness.agent.run.RunClock;
import dev.loadwitness.agent.screen.Cautions;
import dev.loadwitness.agent.screen.Screen;
import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.common.Inventory;
import dev.loadwitness.agent.storage.JournalNotes;
import dev.loadwitness.agent.storage.StorageEvents;
import dev.loadwitness.agent.work.GpuChoice;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.file.store.LogStore;
import dev.loadwitness.runlog.file.write.RunLogWriter;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.time.Instant;
import java.util.ArrayList;
import java.util.HexFormat;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.function.Consumer;
import java.util.function.Function;
import java.util.function.Predicate;

/** One run from its first check to its closed log: wires sensors, loads, writer and screen. */
public final class Session {
    private final Devices devices;
    private final Map<Stage, String> leftOut = new LinkedHashMap<>();
    private Procedure procedure;
    private final Optional<String> lengthened;
    private final Attachment procedureText;
    private final Optional<Attachment> jobSheet;
    private final RunOptions options;
    private final PrintStream out;
    private final boolean terminal;
    private final StopSignal signal;

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
        this.procedureText = procedureText;
        this.jobSheet = jobSheet;
        this.options = options;
        this.devices = new Devices(launcher, wishes);
        this.out = out;
        this.terminal = terminal;
        this.signal = new StopSignal(out);
    }

    /** Runs to the end and returns the exit status. */
    public int run() throws Complaint, InterruptedException {
        chooseStages();
        BeforeRun.check(procedure, options, Home.ofThisProgram(), out, terminal);
        LogFolder place = LogFolder.open(options.out, options.workDir);
        try {
            return run(place);
        } catch (Complaint complaint) {
            if (!signal.hasRun()) {
                place.abandon();
            }
            throw complaint;
        }
    }

    private int run(LogFolder place) throws Complaint, InterruptedException {
        TicketJournal journal = new TicketJournal(options);
        Inventory inventory = MachineFacts.take(options.withhold);
        Discovery discovery = discover(place, inventory);
        BeforeRun.checkWatched(procedure, procedureText.name(), discovery);
        Header header = header(inventory, journal.earlier(out));
        StorageEvents told = new StorageEvents();
        RunLogWriter writer = create(place.folder(), header, told);
        SessionLog log = log(writer, place, journal.notes(header.runId(), false, told));
        return log.carryThrough(() -> {
            Run.Beginning beginning = Run.Beginning.NEW;
            drive(
                    discovery,
                    log,
                    RunClock.ofThisMachine(),
                    told,
                    beginning,
                    run -> run.begin(RunClock.bootId(), RunClock.isPlausible()));
        });
    }

    private SessionLog log(RunLogWriter writer, LogFolder place, Optional<JournalNotes> notes) {
        return new SessionLog(writer, place, notes, options, out, terminal, signal);
    }

    /** Takes a run that broke off to its end, or closes it, as was decided. */
    public int goOn(Resumed resumed, LogFolder place) throws Complaint, InterruptedException {
        Header header = resumed.before().header();
        Optional<JournalNotes> notes =
                new TicketJournal(options).notes(header.runId(), !options.journalMayBeMade, resumed.told());
        SessionLog log = log(resumed.writer(), place, notes);
        return log.carryThrough(() -> goOn(resumed, place, log));
    }

    private void goOn(Resumed resumed, LogFolder place, SessionLog log) throws Complaint, InterruptedException {
        TakenUp takenUp = new TakenUp(resumed, out);
        takenUp.tellHowItEnded();
        takenUp.tellLeftBehind();
        Decision decision = resumed.decision();
        if (decision.closed().isPresent()) {
            takenUp.close(log, decision.closed().get(), decision.why());
            return;
        }
        procedure = procedure.withStages(decision.stages());
        List<Stage> left =
                procedure.stages().subList(decision.stage(), procedure.stages().size());
        Optional<String> lost = devices.findAgain(left, resumed.before().gpuLoads());
        if (lost.isPresent()) {
            takenUp.close(log, CloseReason.DEVICE_ABSENT, lost.get());
            return;
        }
        takenUp.tellHowItGoesOn(left);
        Header header = resumed.before().header();
        Terms terms = Terms.of(header, procedure, lengthened, left);
        if (Terms.hasLoad(left)) {
            terms.lines().forEach(out::println);
            Cautions.LINES.forEach(out::println);
        }
        if (!BeforeRun.isAgreed(terms, left, options, terminal)) {
            log.leaveOpen(notAgreed(terms));
            return;
        }
        Inventory inventory = MachineFacts.take(header.withheld());
        Discovery discovery = discover(place, inventory);
        drive(discovery, log, resumed.clock(), resumed.told(), takenUp.beginning(), run -> {
            run.goOn();
            if (decision.askedFor()) {
                run.goOnWith(
                        resumed.before().powerOffAsked().orElseThrow(),
                        true,
                        resumed.before().secondsSinceAsked(resumed.now()));
            }
        });
    }

    private Discovery discover(LogFolder place, Inventory inventory) {
        List<Path> own =
                List.of(place.folder(), options.out, Home.ofThisProgram().runs());
        return MachineSensors.discover(MachineSensors.wake(procedure), inventory::scrub)
                .and(MachineSensors.devices(own, inventory::scrub));
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

    /** Leaves out the stages that may be, and finds the devices of the others. */
    private void chooseStages() throws Complaint, InterruptedException {
        if (options.skipAsks) {
            leaveOut(s -> s.asks().isPresent(), s -> "by --skip-asks");
        }
        devices.choose(procedure, procedureText.name());
        leaveOut(
                s -> !devices.has(s),
                s -> "there is no " + s.gpu().orElseThrow().word() + " that OpenCL offers");
    }

    private void leaveOut(Predicate<Stage> which, Function<Stage, String> why) {
        procedure.stages().stream().filter(which).forEach(s -> leftOut.put(s, why.apply(s)));
        procedure = procedure.withStages(
                procedure.stages().stream().filter(which.negate()).toList());
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
            return RunLogWriter.create(LogStore.in(folder), LogFolder.STEM, header, options.writer(told));
        } catch (IOException e) {
            throw Complaint.of(Sysexits.CANNOT_CREATE, e);
        }
    }

    private void drive(
            Discovery discovery,
            SessionLog log,
            RunClock clock,
            StorageEvents told,
            Run.Beginning beginning,
            Consumer<Run> begin)
            throws InterruptedException {
        Dropouts dropouts = Dropouts.of(discovery.sources());
        try (SensorBank bank = new SensorBank(dropouts.sources(), SensorBank.deadlineFor(procedure.samplingPeriod()));
                Heartbeat heartbeat = new Heartbeat()) {
            Run run = new Run(
                    procedure,
                    bank,
                    dropouts.dropout(),
                    devices::start,
                    log::append,
                    clock,
                    heartbeat::takeLongestGapNanos,
                    beginning);
            signal.ends(run);
            told.goTo(run);
            begin.accept(run);
            leftOut.forEach(
                    (stage, why) -> run.tell(EventKind.STAGE_LEFT_OUT, Map.of("stage", stage.id(), "why", why)));
            new RunLoop(run, clock, log, new Screen(out, terminal, heading(), log.path()), terminal).toItsEnd();
        }
    }

    private List<String> heading() {
        List<String> lines = new ArrayList<>();
        lines.add((options.ticket == null ? "" : options.ticket + "   ") + procedure.title());
        lengthened.ifPresent(lines::add);
        return lines;
    }
}
