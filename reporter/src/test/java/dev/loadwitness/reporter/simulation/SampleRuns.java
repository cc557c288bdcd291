// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.simulation;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.CloseReason;
import dev.loadwitness.runlog.EarlierAttempt;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.read.LogVisitor;
import dev.loadwitness.runlog.file.read.RunLogReader;
import dev.loadwitness.runlog.file.store.LogStore;
import dev.loadwitness.runlog.file.write.RunLogWriter;
import dev.loadwitness.runlog.file.write.WriterListener;
import dev.loadwitness.runlog.file.write.WriterOptions;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;

/**
 * Writes the simulated part of {@code sample-runs/}, each log in a folder of its own. The same bytes every time: a test
 * writes them anew and compares. To make them anew after a change:
 *
 * <pre>{@code mvn -q -pl runlog,reporter test -Dtest=SampleRunsTest -Dloadwitness.rewrite=true}</pre>
 */
public final class SampleRuns {
    private static final String STEM = "run";
    private static final Duration PATIENCE = Duration.ofSeconds(60);
    private static final Duration OFF = Duration.ofSeconds(95);

    /** In minute 30 of the clean run. */
    private static final long TAMPERED_SAMPLE = 900;

    /** As a program of another version might write: facts that classify nothing. */
    private static final Map<String, String> UNCLASSIFIED =
            facts("shutdown-record", "none in wtmp or the journal", "pstore", "empty");

    private SampleRuns() {}

    /** All of them, below {@code folder}, which must not hold them yet. */
    public static void write(Path folder) throws IOException {
        one(Scenario.CLEAN_PASS, folder.resolve("clean-pass"));
        one(Scenario.BAD_CONTACT, folder.resolve("bad-contact"));
        one(Scenario.STILL_RISING, folder.resolve("still-rising"));
        one(Scenario.POWER_CUT, folder.resolve("power-cut"));
        restarted(
                Simulation.of(Scenario.POWER_CUT),
                folder.resolve("power-cut-restarted"),
                1,
                found("crash-store", "empty", "hardware-error", "none"));
        restarted(
                Simulation.of(Scenario.RAILS_CUT),
                folder.resolve("kernel-crash"),
                1,
                found("crash-store", "panic", "crash-record", "dmesg-efi-simulated"));
        restarted(
                Simulation.of(Scenario.RAILS_CUT_HOT),
                folder.resolve("thermal-trip"),
                1,
                found("crash-store", "empty", "thermal-message", "yes"));
        restarted(
                Simulation.of(Scenario.RAILS_CUT),
                folder.resolve("orderly-restart"),
                1,
                facts("same-boot", "no", "system-log", "restart", "asked-by", "user", "crash-store", "empty"));
        restarted(
                Simulation.of(Scenario.RAILS_CUT),
                folder.resolve("restart-loop"),
                4,
                found("crash-store", "empty", "hardware-error", "none"));
        one(Scenario.STUCK_SENSOR, folder.resolve("stuck-sensor"));
        one(Scenario.ADAPTER_LOST, folder.resolve("adapter-lost"));
        one(Scenario.IDLE_SOAK, folder.resolve("idle-soak"));
        one(Scenario.ADAPTER_NOT_RECOGNISED, folder.resolve("adapter-not-recognised"));
        one(Scenario.REGULATED, folder.resolve("regulated"));
        for (Scenario scenario : Scenario.values()) {
            if ((scenario.onRails() || scenario.onParts() || scenario.isGuided()) && !scenario.diesSuddenly()) {
                one(scenario, folder.resolve(scenario.word()));
            }
        }
        threeAttempts(folder.resolve("three-attempts"));
        Path tampered = Files.createDirectories(folder.resolve("tampered"));
        SimulatedLog.tamper(
                folder.resolve("clean-pass/run.jsonl"),
                tampered.resolve("run.jsonl"),
                TAMPERED_SAMPLE,
                Played.of(Scenario.CLEAN_PASS).index(LaptopSensors.GPU_TEMPERATURE),
                61);
    }

    private static void one(Scenario scenario, Path folder) throws IOException {
        Files.createDirectories(folder);
        SimulatedLog.write(Simulation.of(scenario), folder, STEM);
        Files.deleteIfExists(folder.resolve(STEM + ".lock"));
        Files.deleteIfExists(folder.resolve(STEM + ".reserve"));
    }

    private static void threeAttempts(Path folder) throws IOException {
        List<EarlierAttempt> earlier = new ArrayList<>();
        earlier.add(restarted(Simulation.of(Scenario.FIRST_ATTEMPT), folder.resolve("1"), 1, UNCLASSIFIED));
        earlier.add(restarted(
                Simulation.of(Scenario.SECOND_ATTEMPT).withEarlier(earlier), folder.resolve("2"), 1, UNCLASSIFIED));
        Path third = Files.createDirectories(folder.resolve("3"));
        SimulatedLog.write(Simulation.of(Scenario.THIRD_ATTEMPT).withEarlier(earlier), third, STEM);
    }

    /** What a boot finds after an end that left no record of a shutdown. */
    private static Map<String, String> found(String... more) {
        Map<String, String> facts =
                facts("same-boot", "no", "system-log", "none", "system-log-seconds", "0.4", "login-records", "none");
        facts.putAll(facts(more));
        facts.put("off-seconds", "73.5");
        return facts;
    }

    private static Map<String, String> facts(String... namesAndValues) {
        Map<String, String> facts = new LinkedHashMap<>();
        for (int i = 0; i < namesAndValues.length; i += 2) {
            facts.put(namesAndValues[i], namesAndValues[i + 1]);
        }
        return facts;
    }

    /**
     * A run whose machine died and was switched on again: the log goes on in another boot, and is closed there.
     *
     * @param boots how many; with more than one, none of which lives to a sample, it is a restart loop
     */
    private static EarlierAttempt restarted(Simulation simulation, Path folder, int boots, Map<String, String> evidence)
            throws IOException {
        Files.createDirectories(folder);
        EarlierAttempt told = SimulatedLog.write(simulation, folder, STEM);
        Tail tail = new Tail();
        RunLogReader.read(folder.resolve(STEM + ".jsonl"), tail);
        for (int boot = 1; boot < boots; boot++) {
            try (RunLogWriter writer = next(tail, folder, boot)) {
                closed(writer);
            }
        }
        try (RunLogWriter writer = next(tail, folder, boots)) {
            CloseReason reason = boots > 1 ? CloseReason.RESTART_LOOP : CloseReason.INTERRUPTED;
            writer.append(new ChannelTable(new RunTime(boots, 40_000_000), tail.table.channels()));
            writer.append(new BootEvidence(new RunTime(boots, 300_000_000), evidence));
            writer.append(new Close(
                    new RunTime(boots, 310_000_000),
                    back(tail, boots).plusMillis(310),
                    reason.word(),
                    boots > 1 ? boots + " starts in a row without a sample" : "the machine restarted",
                    tail.samples,
                    tail.events));
            closed(writer);
            Files.deleteIfExists(folder.resolve(STEM + ".lock"));
            return new EarlierAttempt(told.runId(), writer.position().chain(), reason.word());
        }
    }

    private static Instant back(Tail tail, int boot) {
        return tail.lastSample.utc().plus(OFF.multipliedBy(boot));
    }

    private static RunLogWriter next(Tail tail, Path folder, int boot) throws IOException {
        return RunLogWriter.resume(
                LogStore.in(folder),
                STEM,
                segment -> new Boot(
                        new RunTime(segment, 0),
                        back(tail, boot),
                        "5d1c0000-0000-4000-8000-00000000b00" + (6 + boot),
                        21.5,
                        true,
                        Optional.empty()),
                WriterOptions.defaults(WriterListener.NONE));
    }

    private static void closed(RunLogWriter writer) throws IOException {
        if (writer.close(PATIENCE) > 0) {
            throw new IOException("the continued log is not on the disk");
        }
    }

    /** What the second boot must know of the first. */
    private static final class Tail implements LogVisitor {
        private ChannelTable table;
        private Sample lastSample;
        private long samples;
        private long events;

        @Override
        public void record(LogRecord logRecord, Place place) {
            if (logRecord instanceof ChannelTable t) {
                table = t;
            } else if (logRecord instanceof Sample s) {
                lastSample = s;
                samples++;
            } else if (logRecord instanceof dev.loadwitness.runlog.Event) {
                events++;
            }
        }

        @Override
        public void damage(Damage damage) {
            // The torn tail is expected.
        }
    }
}
