// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.write;

import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.file.line.RecordEncoder;
import dev.loadwitness.runlog.file.read.Example;
import java.nio.ByteBuffer;
import java.util.List;
import org.junit.jupiter.api.Test;

class LinesTest {
    private final List<LogRecord> records = Example.records();
    private final byte[] log = Example.bytes(Example.lines(records));

    private static List<byte[]> bodies(List<LogRecord> records) {
        return records.stream().map(RecordEncoder::body).toList();
    }

    @Test
    void howeverTheRecordsAreCutIntoBatchesTheBytesAndTheEndAreTheSame() {
        Lines whole = Lines.after(LogEnd.NONE, bodies(records));
        assertThat(whole.bytes()).isEqualTo(ByteBuffer.wrap(log));
        assertThat(whole.end().bytes()).isEqualTo(log.length);
        assertThat(whole.end().position().records()).isEqualTo(records.size());
        for (int cut = 0; cut <= records.size(); cut++) {
            Lines first = Lines.after(LogEnd.NONE, bodies(records.subList(0, cut)));
            Lines second = Lines.after(first.end(), bodies(records.subList(cut, records.size())));
            assertThat(second.end()).isEqualTo(whole.end());
            ByteBuffer both = ByteBuffer.allocate(log.length);
            both.put(first.bytes()).put(second.bytes()).flip();
            assertThat(both).as("cut at %d", cut).isEqualTo(ByteBuffer.wrap(log));
        }
    }

    @Test
    void theLineFeedThatEndsATornTailCountsInTheFileAndNotInTheChain() {
        Lines lines = Lines.after(LogEnd.NONE, bodies(records));
        Lines fed = lines.onNewLine();
        assertThat(fed.bytes().get(0)).isEqualTo((byte) '\n');
        assertThat(fed.bytes().slice(1, log.length)).isEqualTo(ByteBuffer.wrap(log));
        LogEnd end = lines.end();
        assertThat(fed.end()).isEqualTo(new LogEnd(end.part(), end.n(), end.chain(), end.bytes() + 1));
        assertThat(fed.bytes().remaining()).isEqualTo(log.length + 1);
    }
}
