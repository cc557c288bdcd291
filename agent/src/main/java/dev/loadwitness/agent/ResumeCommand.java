// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import dev.loadwitness.agent.arm.ArmedState;
import dev.loadwitness.agent.arm.Machine;
import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.place.FileSystem;
import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.place.Ownership;
import dev.loadwitness.agent.resume.Decision;
import dev.loadwitness.agent.resume.Unfinished;
import dev.loadwitness.agent.run.RunClock;
import dev.loadwitness.agent.sensor.linux.LinuxFacts;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.file.LogStore;
import dev.loadwitness.runlog.file.RunLogReader;
import dev.loadwitness.runlog.file.RunLogWriter;
import dev.loadwitness.runlog.file.UnsupportedLogException;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.Callable;
import java.util.stream.Stream;
import picocli.CommandLine.Command;
import picocli.CommandLine.Option;
import picocli.CommandLine.Parameters;

@Command(
        name = "resume",
        description = {
            "Takes up the log of a run that broke off: records this start and the evidence of how the last one "
                    + "ended, then closes the log, or goes on with the stage that broke off, as the procedure's "
                    + "'on-interruption' says. After three boots in a row without a sample it closes it in any case.",
            "Without DIR it takes the run that this machine is armed for (see 'arm')."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:the run was completed, or was closed before already",
            " 1:the run is closed after its interruption, or ended early",
            " 2:the operator stopped the run, or the log waits for the power to be switched off",
            "64:wrong usage",
            "65:no log that this version can go on with",
            "66:there is no such log, or no run is armed: another stick, or a log that was moved",
            "69:a device that the run was on is not there any more",
            "70:a defect of this program",
            "73:the log cannot be gone on with: another program writes it, it is another machine's, or its disk is full",
            "74:the log could not be written to its end, or not be copied to its place",
            "77:the log is another user's"
        },
        footer = {"", "Example:", "  loadwitness-agent resume runs/FBR-2026-0142/20261125T140100Z"})
final class ResumeCommand implements Callable<Integer> {
    /** No load is put on where another machine could not be told from this one. */
    private static final Optional<String> MACHINE_UNKNOWN = Optional.of(
            "on Windows this program cannot tell yet which machine it is, and a run never goes on on another");

    private static final Path ROOT = MachineStart.ROOT;
    private static final String ANOTHER_MACHINE =
            "this is not the machine that the run was armed on; a run never goes on on another. Nothing was written";

    /** A stick that the system mounts by itself needs some seconds after the boot. */
    private static final Duration STICK_COMES_WITHIN = Duration.ofSeconds(30);

    @Parameters(arity = "0..1", paramLabel = "DIR", description = "the run's folder, which holds run.jsonl")
    private Path folder;

    @Option(
            names = "--journal",
            paramLabel = "FILE",
            description = "where attempts on a ticket are remembered (default: as for 'run')")
    private Path journal;

    @Option(
            names = "--attended",
            description = "the cautions were read and somebody stays with the machine: do not ask on the terminal"
                    + " before a load is put on again")
    private boolean attended;

    @Option(
            names = ArmCommand.AT_BOOT,
            hidden = true,
            description = "started by what 'arm' installed: counts the boots, runs loads without root's rights")
    private boolean atBoot;

    /** Nothing is to be written to this log, and why. */
    private static final class Refused extends IOException {
        private static final long serialVersionUID = 1L;

        Refused(String message) {
            super(message);
        }
    }

    @Override
    public Integer call() throws Complaint, InterruptedException {
        RunClock clock = RunClock.ofThisMachine();
        Optional<ArmedState> armed = armed();
        Optional<String> lastBoot = Optional.empty();
        if (atBoot) {
            ArmedState state = armed.orElseThrow(() -> nothingArmed());
            if (!state.isThisMachine(LinuxFacts.machine(ROOT), ROOT)) {
                // A live system serves many machines: on the others the start waits for its own, uncounted.
                throw new Complaint(Exit.CANNOT_CREATE, ANOTHER_MACHINE);
            }
            // Before anything else is touched: a machine that dies of what follows dies a counted number of times.
            armed = Optional.of(countDown(state));
            lastBoot = lastBoot(armed.get());
        }
        Path out = folder != null ? folder : armed.map(ArmedState::folder).orElseThrow(() -> nothingArmed());
        if (atBoot) {
            waitFor(out);
        }
        LogFolder place = LogFolder.reopen(out);
        checkOwner(place.folder());
        // By its folder, for somebody may name the run that is armed.
        Optional<ArmedState> mine = armed.filter(a -> a.folder().equals(plain(out)));
        Session.Arming arming = new RunArming(ROOT, atBoot, mine.isPresent());
        return resume(place, plain(out), clock, mine, lastBoot, arming);
    }

    private int resume(
            LogFolder place,
            Path out,
            RunClock clock,
            Optional<ArmedState> armed,
            Optional<String> lastBoot,
            Session.Arming arming)
            throws Complaint, InterruptedException {
        RunOptions options = new RunOptions();
        options.out = out;
        options.journal =
                journal != null ? journal : armed.flatMap(ArmedState::journal).orElse(null);
        options.logMemoryKib = RunOptions.LOG_MEMORY_KIB;
        options.attended = attended;
        options.journalMayBeMade = journal != null;
        PrintStream screen = System.out;
        StorageEvents told = new StorageEvents();
        Unfinished whole = new Unfinished();
        Boot[] now = new Boot[1];
        RunLogWriter writer;
        try {
            writer = RunLogWriter.resume(
                    LogStore.in(place.folder()),
                    LogFolder.STEM,
                    segment -> {
                        checkMachine(whole.header(), armed);
                        now[0] = boot(segment, clock, whole.header());
                        return now[0];
                    },
                    whole,
                    Session.writerOptions(options, told));
        } catch (UnsupportedLogException e) {
            throw new Complaint(Exit.DATA, e.getMessage());
        } catch (IOException e) {
            if (whole.close().isPresent()) {
                screen.println(place.writing() + " is closed ("
                        + whole.close().get().reason() + "): there is nothing to resume");
                arming.disarm();
                return Exit.COMPLETED;
            }
            throw new Complaint(Exit.CANNOT_CREATE, e.getMessage());
        }
        screen.println(
                "Resumed " + place.writing() + " in segment " + now[0].at().segment());
        Unfinished before = writer.leftBehind().isPresent() ? whatIsLeft(place, now[0]) : whole;
        Header header = before.header();
        options.ticket = header.ticket().isEmpty() ? null : header.ticket();
        options.settle(Home.ofThisProgram());
        options.withhold = header.withheld();
        Map<String, String> evidence = MachineEvidence.ofThisMachine().gather(lastBoot(before, now[0]));
        Optional<JobSheet> sheet = Optional.empty();
        if (header.jobSheet().isPresent()) {
            sheet = Optional.of(Texts.jobSheet(header.jobSheet().get()));
        }
        RailPlan plan = RailPlan.of(Texts.procedure(header.procedure()), sheet);
        Optional<String> notBeyond = MachineStart.WINDOWS ? lastBoot.or(() -> MACHINE_UNKNOWN) : lastBoot;
        Decision decision = Decision.of(before, now[0], plan.procedure(), notBeyond);
        int status = new Session(
                        plan,
                        header.procedure(),
                        header.jobSheet(),
                        options,
                        GpuChoice.Wishes.NONE,
                        launcher(),
                        arming,
                        screen,
                        Terminal.find().isPresent())
                .goOn(new Resumed(writer, clock, told, before, now[0], evidence, decision), place);
        if (!atBoot && status != Exit.STOPPED) {
            screen.println("Next, on the bench: loadwitness-reporter judge " + place.log());
        }
        return status;
    }

    /** Without what was left behind: nothing of that is in the log any more, and it must not be counted or decide. */
    private static Unfinished whatIsLeft(LogFolder place, Boot now) throws Complaint {
        Unfinished left = new Unfinished(now.at().segment());
        try {
            RunLogReader.read(place.writing(), left);
            return left;
        } catch (IOException e) {
            throw new Complaint(Exit.IO, e.getMessage());
        }
    }

    private static LastBoot lastBoot(Unfinished before, Boot now) {
        return new LastBoot(
                before.lastBoot().map(Boot::bootId).orElse(""),
                Optional.of(before.lastSampleUtc()),
                before.lastUtcTrusted() && now.utcTrusted(),
                List.of());
    }

    private LoadLauncher launcher() throws Complaint {
        try {
            // The task of Windows has the lower rights of whoever armed already.
            return atBoot && !MachineStart.WINDOWS ? LoadLauncher.unprivileged() : LoadLauncher.ofThisProgram();
        } catch (IOException e) {
            throw new Complaint(Exit.UNAVAILABLE, e.getMessage());
        }
    }

    private Optional<ArmedState> armed() throws Complaint {
        if (folder != null && !atBoot && !Files.isReadable(ArmedState.file(ROOT))) {
            return Optional.empty();
        }
        try {
            return ArmedState.read(ROOT);
        } catch (IOException e) {
            throw new Complaint(Exit.NO_INPUT, e.getMessage());
        }
    }

    private static Complaint nothingArmed() {
        return new Complaint(
                Exit.NO_INPUT, "no run is armed on this machine; name the folder of the one to go on with: resume DIR");
    }

    private static ArmedState countDown(ArmedState armed) throws Complaint {
        try {
            if (armed.bootsLeft() <= 0) {
                ArmedState.remove(ROOT);
                throw new Complaint(
                        Exit.ENDED_EARLY,
                        "the boots that this run was armed for are used up: disarmed. To go on: resume "
                                + armed.folder());
            }
            return armed.countDown(ROOT);
        } catch (IOException e) {
            throw new Complaint(
                    Exit.CANNOT_CREATE, "this boot cannot be counted, so nothing is started: " + e.getMessage());
        }
    }

    private static Optional<String> lastBoot(ArmedState armed) {
        if (armed.bootsLeft() == 0) {
            return Optional.of("this was the last boot that the run was armed for");
        }
        return Session.isPlausible() && Instant.now().isAfter(armed.expires())
                ? Optional.of("the run was armed until " + armed.expires())
                : Optional.empty();
    }

    private static void waitFor(Path out) throws InterruptedException {
        long end = System.nanoTime() + STICK_COMES_WITHIN.toNanos();
        while (!Files.isDirectory(out) && System.nanoTime() < end) {
            Thread.sleep(200);
        }
    }

    /** A file of somebody else is never written to. On a disk without owners all is of whoever mounted it. */
    private static void checkOwner(Path folder) throws Complaint {
        Optional<Long> user = Ownership.ownUser();
        if (user.isEmpty()) {
            return;
        }
        boolean ownerless;
        try {
            ownerless = FileSystem.of(folder).withoutOwners();
        } catch (IOException e) {
            ownerless = false;
        }
        List<Path> all = new ArrayList<>(List.of(folder));
        try (Stream<Path> files = Files.list(folder)) {
            files.filter(f -> f.getFileName().toString().startsWith(LogFolder.STEM + "."))
                    .forEach(all::add);
        } catch (IOException e) {
            throw new Complaint(Exit.NO_INPUT, folder + " cannot be read: " + e.getMessage());
        }
        for (Path path : all) {
            boolean link = Files.isSymbolicLink(path) && !path.equals(folder);
            boolean odd = !path.equals(folder) && !Files.isRegularFile(path, LinkOption.NOFOLLOW_LINKS);
            Optional<String> why = link || odd
                    ? Optional.of(path + " is no plain file")
                    : ownerless ? Optional.empty() : Ownership.notOf(user.get(), path);
            if (why.isPresent()) {
                throw new Complaint(
                        Exit.NO_PERMISSION, why.get() + ": a log is gone on with only by the user who began it");
            }
        }
    }

    private static void checkMachine(Header header, Optional<ArmedState> armed) throws Refused {
        Map<String, String> here = LinuxFacts.machine(ROOT);
        if (armed.isPresent() && !armed.get().runId().equals(header.runId())) {
            throw new Refused("the log in " + armed.get().folder()
                    + " is not of the run that this machine is armed for: is it another stick? Nothing was written");
        }
        if (armed.isPresent() && !armed.get().isThisMachine(here, ROOT)) {
            throw new Refused(ANOTHER_MACHINE);
        }
        Optional<String> difference = Machine.difference(header.facts().getOrDefault("machine", Map.of()), here);
        if (difference.isPresent()) {
            throw new Refused("this log is of another machine: " + difference.get()
                    + "; a run never goes on on another. Nothing was written");
        }
    }

    private static Boot boot(int segment, RunClock clock, Header header) {
        Instant utc = clock.wallClock();
        return new Boot(
                new RunTime(segment, clock.nanos()),
                utc,
                Session.bootId(),
                clock.bootTimeSeconds(),
                Session.isPlausible() && !utc.isBefore(header.utc()),
                Optional.empty());
    }

    private static Path plain(Path path) {
        return path.toAbsolutePath().normalize();
    }
}
