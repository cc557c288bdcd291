// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.command;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.machine.MachineEvidence;
import dev.loadwitness.agent.machine.MachineFacts;
import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.place.LogFolder;
import dev.loadwitness.agent.place.Texts;
import dev.loadwitness.agent.procedure.RailPlan;
import dev.loadwitness.agent.program.Exit;
import dev.loadwitness.agent.program.Version;
import dev.loadwitness.agent.resume.Decision;
import dev.loadwitness.agent.resume.Machine;
import dev.loadwitness.agent.resume.Unfinished;
import dev.loadwitness.agent.run.RunClock;
import dev.loadwitness.agent.session.Resumed;
import dev.loadwitness.agent.session.RunOptions;
import dev.loadwitness.agent.session.Session;
import dev.loadwitness.agent.storage.StorageEvents;
import dev.loadwitness.agent.work.GpuChoice;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.command.Terminal;
import dev.loadwitness.runlog.file.read.RunLogReader;
import dev.loadwitness.runlog.file.read.UnsupportedLogException;
import dev.loadwitness.runlog.file.store.LogStore;
import dev.loadwitness.runlog.file.write.RunLogWriter;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.file.Path;
import java.time.Instant;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.Callable;
import picocli.CommandLine.Command;
import picocli.CommandLine.Option;
import picocli.CommandLine.Parameters;

@Command(
        name = "resume",
        description =
                "Takes up the log of a run that broke off: records this start and the evidence of how the last one "
                        + "ended, then closes the log, or goes on with the stage that broke off, as the procedure's "
                        + "'on-interruption' says. After three boots in a row without a sample it closes it in any case.",
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:the run was completed, or was closed before already",
            " 1:the run is closed after its interruption, or ended early",
            " 2:the operator stopped the run, nobody agreed to its load, or the log waits for the power to be switched off",
            "64:wrong usage",
            "65:no log that this version can go on with",
            "66:there is no such log: another stick, or a log that was moved",
            "69:a device that the run was on is not there any more",
            "70:a defect of this program",
            "73:the log cannot be gone on with: another program writes it, it is another machine's, or its disk is full",
            "74:the log could not be written to its end, or not be copied to its place",
            "77:the log is another user's"
        },
        footer = {
            "",
            "Before a load is put on again it shows what the log says that the run goes on with, and asks for the word.",
            "",
            "Example:",
            "  loadwitness-agent resume runs/FBR-2026-0142/20261125T140100Z"
        })
public final class ResumeCommand implements Callable<Integer> {
    @Parameters(paramLabel = "DIR", description = "the run's folder, which holds run.jsonl")
    private Path folder;

    @Option(
            names = "--journal",
            paramLabel = "FILE",
            description = "where attempts on a ticket are remembered (default: as for 'run')")
    private Path journal;

    @Option(
            names = "--attended",
            description =
                    "the cautions were read and somebody stays with the machine; puts a load on without a terminal"
                            + " only together with --as-shown")
    private boolean attended;

    @Option(
            names = "--as-shown",
            paramLabel = "SHA-256",
            defaultValue = "",
            description = "for scripts: what the run goes on with is what an earlier call of 'resume' showed under this"
                    + " digest, and somebody has agreed to it")
    private String asShown;

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
        LogFolder place = LogFolder.reopen(folder);
        place.checkOwn();
        return resume(place, folder.toAbsolutePath().normalize(), clock);
    }

    private int resume(LogFolder place, Path out, RunClock clock) throws Complaint, InterruptedException {
        RunOptions options = new RunOptions();
        options.out = out;
        options.journal = journal;
        options.logMemoryKib = RunOptions.LOG_MEMORY_KIB;
        options.attended = attended;
        options.asShown = asShown;
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
                        checkMachine(whole.header());
                        now[0] = boot(segment, clock, whole.header());
                        return now[0];
                    },
                    whole,
                    options.writer(told));
        } catch (UnsupportedLogException e) {
            throw Complaint.of(Sysexits.DATA, e);
        } catch (IOException e) {
            if (whole.close().isPresent()) {
                screen.println(place.writing() + " is closed ("
                        + whole.close().get().reason() + "): there is nothing to resume");
                return Exit.COMPLETED;
            }
            throw Complaint.of(Sysexits.CANNOT_CREATE, e);
        }
        screen.println(
                "Resumed " + place.writing() + " in segment " + now[0].at().segment());
        Unfinished before = writer.leftBehind().isPresent() ? whatIsLeft(place, now[0]) : whole;
        Header header = before.header();
        options.ticket = header.ticket().isEmpty() ? null : header.ticket();
        options.settle(Home.ofThisProgram());
        options.withhold = header.withheld();
        Map<String, String> evidence = MachineEvidence.gather(lastBoot(before, now[0]));
        Optional<JobSheet> sheet = Optional.empty();
        if (header.jobSheet().isPresent()) {
            sheet = Optional.of(Texts.jobSheet(header.jobSheet().get()));
        }
        RailPlan plan = RailPlan.of(Texts.procedure(header.procedure()), sheet);
        Decision decision = Decision.of(before, now[0], plan.procedure());
        int status = new Session(
                        plan,
                        header.procedure(),
                        header.jobSheet(),
                        options,
                        GpuChoice.Wishes.NONE,
                        LoadLauncher.ofThisProgram(),
                        screen,
                        Terminal.find().isPresent())
                .goOn(new Resumed(writer, clock, told, before, now[0], evidence, decision), place);
        if (status != Exit.STOPPED) {
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
            throw Complaint.of(Sysexits.IO, e);
        }
    }

    private static LastBoot lastBoot(Unfinished before, Boot now) {
        return new LastBoot(
                before.lastBoot().map(Boot::bootId).orElse(""),
                Optional.of(before.lastSampleUtc()),
                before.lastUtcTrusted() && now.utcTrusted(),
                List.of());
    }

    private static void checkMachine(Header header) throws Refused {
        Map<String, String> here = MachineFacts.identity();
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
                RunClock.bootId(),
                clock.bootTimeSeconds(),
                RunClock.isPlausible() && !utc.isBefore(header.utc()),
                Optional.empty());
    }
}
