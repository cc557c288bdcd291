// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import java.nio.file.Path;
import java.time.Duration;
import java.util.List;
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
}
