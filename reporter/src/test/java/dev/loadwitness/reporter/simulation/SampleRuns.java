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
import dev.loadwitness.runlog.file.Damage;
import dev.loadwitness.runlog.file.LogStore;
import dev.loadwitness.runlog.file.LogVisitor;
import dev.loadwitness.runlog.file.Place;
import dev.loadwitness.runlog.file.RunLogReader;
import dev.loadwitness.runlog.file.RunLogWriter;
import dev.loadwitness.runlog.file.WriterListener;
import dev.loadwitness.runlog.file.WriterOptions;
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

    private SampleRuns() {}

    /** All of them, below {@code folder}, which must not hold them yet. */
    public static void write(Path folder) throws IOException {
        one(Scenario.CLEAN_PASS, folder.resolve("clean-pass"));
        one(Scenario.BAD_CONTACT, folder.resolve("bad-contact"));
        one(Scenario.STILL_RISING, folder.resolve("still-rising"));
        one(Scenario.POWER_CUT, folder.resolve("power-cut"));
        restarted(Simulation.of(Scenario.POWER_CUT), folder.resolve("power-cut-restarted"));
        one(Scenario.STUCK_SENSOR, folder.resolve("stuck-sensor"));
        one(Scenario.ADAPTER_LOST, folder.resolve("adapter-lost"));
        one(Scenario.IDLE_SOAK, folder.resolve("idle-soak"));
        one(Scenario.ADAPTER_NOT_RECOGNISED, folder.resolve("adapter-not-recognised"));
        one(Scenario.REGULATED, folder.resolve("regulated"));
        for (Scenario scenario : Scenario.values()) {
            if (scenario.onRails() || scenario.isGuided()) {
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
        earlier.add(restarted(Simulation.of(Scenario.FIRST_ATTEMPT), folder.resolve("1")));
        earlier.add(restarted(Simulation.of(Scenario.SECOND_ATTEMPT).withEarlier(earlier), folder.resolve("2")));
        Path third = Files.createDirectories(folder.resolve("3"));
        SimulatedLog.write(Simulation.of(Scenario.THIRD_ATTEMPT).withEarlier(earlier), third, STEM);
    }

    /** A run whose machine died and was switched on again: the log goes on in another boot, and is closed there. */
    private static EarlierAttempt restarted(Simulation simulation, Path folder) throws IOException {
        Files.createDirectories(folder);
        EarlierAttempt told = SimulatedLog.write(simulation, folder, STEM);
        Tail tail = new Tail();
        RunLogReader.read(folder.resolve(STEM + ".jsonl"), tail);
        Instant back = tail.lastSample.utc().plus(OFF);
        try (RunLogWriter writer = RunLogWriter.resume(
                LogStore.in(folder),
                STEM,
                segment -> new Boot(
                        new RunTime(segment, 0),
                        back,
                        "5d1c0000-0000-4000-8000-00000000b007",
                        21.5,
                        true,
                        Optional.empty()),
                WriterOptions.defaults(WriterListener.NONE))) {
            RunTime at = new RunTime(1, 40_000_000);
            Map<String, String> evidence = new LinkedHashMap<>();
            evidence.put("shutdown-record", "none in wtmp or the journal");
            evidence.put("pstore", "empty");
            writer.append(new ChannelTable(at, tail.table.channels()));
            writer.append(new BootEvidence(new RunTime(1, 300_000_000), evidence));
            writer.append(new Close(
                    new RunTime(1, 310_000_000),
                    back.plusMillis(310),
                    CloseReason.INTERRUPTED.word(),
                    "the machine restarted",
                    tail.samples,
                    tail.events));
            if (writer.close(PATIENCE) > 0) {
                throw new IOException("the continued log is not on the disk");
            }
            Files.deleteIfExists(folder.resolve(STEM + ".lock"));
            return new EarlierAttempt(told.runId(), writer.position().chain(), CloseReason.INTERRUPTED.word());
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
