// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.file.read.Collector;
import dev.loadwitness.runlog.file.read.Example;
import dev.loadwitness.runlog.file.read.ReadSummary;
import dev.loadwitness.runlog.file.read.RunLogReader;
import dev.loadwitness.runlog.file.store.LogStore;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class RoundTripTest {
    @TempDir
    Path folder;

    @Test
    void whatWasAppendedIsReadBackTheSame() throws Exception {
        List<LogRecord> records = Example.records();
        try (RunLogWriter writer = RunLogWriter.create(
                LogStore.in(folder), "run", (Header) records.get(0), WriterOptions.defaults(WriterListener.NONE))) {
            long ticket = 1;
            for (LogRecord record : records.subList(1, records.size())) {
                ticket = writer.append(record);
            }
            assertThat(writer.awaitDurable(ticket, Duration.ofSeconds(10))).isTrue();
            assertThat(writer.position().records()).isEqualTo(records.size());
        }
        Collector found = new Collector();
        ReadSummary summary = RunLogReader.read(folder.resolve("run.jsonl"), found);
        assertThat(found.damages).isEmpty();
        assertThat(found.records).isEqualTo(Collector.comparable(records));
        assertThat(summary.closed()).isTrue();
        assertThat(folder).isDirectoryNotContaining("glob:**.reserve");
    }

    /** Edges of load steps make lines of many thousand bytes, and what follows them in the reader's memory is no part of them. */
    @Test
    void linesOfAnyLengthAreReadBackTheSame() throws Exception {
        List<LogRecord> records = new ArrayList<>(Example.records().subList(0, 3));
        for (int length : new int[] {10, 3_000, 9_000, 30_000, 30_000, 100_000, 900_000, 5}) {
            records.add(Event.of(
                    new RunTime(0, 1_000_000_000L + records.size()),
                    Instant.parse("2026-11-25T14:00:01.000Z"),
                    EventKind.LOAD_EDGES,
                    Map.of("edges", "7".repeat(length))));
        }
        try (RunLogWriter writer = RunLogWriter.create(
                LogStore.in(folder), "run", (Header) records.get(0), WriterOptions.defaults(WriterListener.NONE))) {
            long ticket = 1;
            for (LogRecord record : records.subList(1, records.size())) {
                ticket = writer.append(record);
            }
            assertThat(writer.awaitDurable(ticket, Duration.ofSeconds(10))).isTrue();
        }
        Collector found = new Collector();
        RunLogReader.read(folder.resolve("run.jsonl"), found);
        assertThat(found.damages).isEmpty();
        assertThat(found.records).isEqualTo(Collector.comparable(records));
    }
}
