// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.load.LoadLauncher;
import dev.loadwitness.agent.run.Heartbeat;
import dev.loadwitness.agent.run.Run;
import dev.loadwitness.agent.run.RunClock;
import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.agent.sensor.DropoutSource;
import dev.loadwitness.agent.sensor.SensorBank;
import dev.loadwitness.agent.sensor.Source;
import dev.loadwitness.agent.sensor.common.Inventory;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.file.AttemptJournal;
import dev.loadwitness.runlog.file.LogStore;
import dev.loadwitness.runlog.file.RunLogWriter;
import dev.loadwitness.runlog.file.WriterListener;
import dev.loadwitness.runlog.file.WriterOptions;
import dev.loadwitness.runlog.procedure.Procedure;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.FileAlreadyExistsException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.HexFormat;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Set;
import java.util.concurrent.CountDownLatch;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.atomic.AtomicReference;
import java.util.concurrent.locks.LockSupport;

/** One run from its first check to its closed log: wires sensors, loads, writer and screen, and owns the thread. */
final class Session {
    private static final String STEM = "run";
    private static final Duration JOURNAL_EVERY = Duration.ofMinutes(1);
    private static final Duration CLOSE_WITHIN = Duration.ofSeconds(10);
    /** A clock that says less than this is wrong: the program did not exist then. */
    private static final Instant BUILT = Instant.parse("2026-11-01T00:00:00Z");

    private final Procedure procedure;
    private final Attachment procedureText;
    private final Optional<Attachment> jobSheet;
    private final RunOptions options;
    private final PrintStream out;
    private final boolean terminal;

    Session(
            Procedure procedure,
            Attachment procedureText,
            Optional<Attachment> jobSheet,
            RunOptions options,
            PrintStream out,
            boolean terminal) {
        this.procedure = requireNonNull(procedure, "procedure");
        this.procedureText = requireNonNull(procedureText, "procedureText");
        this.jobSheet = requireNonNull(jobSheet, "jobSheet");
        this.options = requireNonNull(options, "options");
        this.out = requireNonNull(out, "out");
        this.terminal = terminal;
    }

    /** Runs to the end and returns the exit status. */
    int run() throws Complaint, InterruptedException {
        checkDevices();
        Path folder = folder();
        Path journalFile = options.journal != null
                ? options.journal
                : folder.toAbsolutePath().normalize().resolveSibling("loadwitness-journal.jsonl");
        Optional<AttemptJournal> journal =
                options.ticket == null ? Optional.empty() : Optional.of(new AttemptJournal(journalFile));
        Discovery discovery = Sensors.discover();
        Inventory inventory = Inventory.take(Set.copyOf(options.withhold), Map.of());
        AtomicReference<Run> running = new AtomicReference<>();
        try (RunLogWriter writer = create(folder, header(inventory, earlier(journal)), running)) {
            return run(discovery, writer, journal, running, folder.resolve(STEM + ".jsonl"));
        } catch (IOException e) {
            throw new Complaint(Exit.IO, folder + ": the log could not be closed: " + e.getMessage());
        }
    }

    private int run(
            Discovery discovery,
            RunLogWriter writer,
            Optional<AttemptJournal> journal,
            AtomicReference<Run> running,
            Path log)
            throws InterruptedException {
        RunClock clock = RunClock.ofThisMachine();
        Dropouts dropouts = Dropouts.of(discovery.sources());
        LoadLauncher launcher = LoadLauncher.ofThisProgram();
        AtomicReference<String> closedWith = new AtomicReference<>("open");
        CountDownLatch finished = new CountDownLatch(1);
        try (SensorBank bank =
                        new SensorBank(dropouts.sources, SensorBank.deadlineFor(procedure.samplingPeriod()));
                Heartbeat heartbeat = new Heartbeat()) {
            Run run = new Run(
                    procedure,
                    bank,
                    dropouts.dropout,
                    (kind, stage) -> ProcessWork.start(launcher, kind, stage),
                    logRecord -> {
                        writer.append(logRecord);
                        if (logRecord instanceof dev.loadwitness.runlog.Close close) {
                            closedWith.set(close.reason());
                        }
                    },
                    clock,
                    heartbeat::takeLongestGapNanos);
            running.set(run);
            Thread hook = new Thread(() -> stopProperly(run, finished), "stop properly");
            Runtime.getRuntime().addShutdownHook(hook);
            CloseReason reason;
            try {
                reason = loop(run, clock, writer, journal);
            } finally {
                writer.close(CLOSE_WITHIN);
                note(journal, writer, closedWith.get());
                finished.countDown();
            }
            out.println(log);
            out.flush();
            return Exit.of(reason);
        }
    }
}
